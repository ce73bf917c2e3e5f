"""Finds the row that names the columns of a table, wherever it stands.

1. The row is the one whose cells fit the most known names, among the first `MOST_ROWS_ABOVE` filled rows.
2. Two rows may name the columns together: a row of groups above a row of names, or a row of units below the names. The words of a
   group count for the columns to its right up to the next group. Both texts then make one name, joined by `JOINED`.
3. When no row fits, the first filled row names the columns, so that the error can say what is wrong with it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

from dashboard.log.rows import EMPTY, Row, cell_text, is_filled

MOST_ROWS_ABOVE = 40
JOINED = " / "
DETAIL = " | "
UNITS = re.compile(
    r"^[(\[]?\s*(?:pet|utc|min|mins|minutes|h|hrs?|hours|h{1,2}:mm(?::ss)?|w|watts?|kg|wh|yes/no|x|-)\s*[)\]]?$", re.IGNORECASE
)
Fits = Callable[[Sequence[str]], int]


class Headings(NamedTuple):
    """Where the names of the columns stand.

    Parameters
    ----------
    first, last
        Places of the first and the last row that names them, in the list of filled rows.
    names
        Name by column, without spaces around it; empty for a column without a name.
    """

    first: int
    last: int
    names: tuple[str, ...]


def find_headings(rows: Sequence[Row], fits: Fits | None) -> Headings:
    """Find the row or the two rows that name the columns.

    Parameters
    ----------
    rows
        All filled rows of the table; at least one.
    fits
        Gives for the names of the columns how many of them are known; 0 when they cannot be the names. None: the first row is
        taken.

    Returns
    -------
    Headings
        Of the best row; the earlier one among equals.
    """
    first = Headings(0, 0, _names(rows[0]))
    if fits is None:
        return first
    best, most = first, fits(first.names)
    for at in range(1, min(len(rows), MOST_ROWS_ABOVE)):
        names = _names(rows[at])
        if (count := fits(names)) > most:
            best, most = Headings(at, at, names), count
    for at in range(min(len(rows), MOST_ROWS_ABOVE) - 1):
        both = _two_rows(rows[at], rows[at + 1]) if rows[at + 1].number == rows[at].number + 1 else None
        if both is not None:
            count, is_units = fits(both), _are_units(rows[at + 1])
            if count > most or (is_units and count == most and best.last == at):
                best, most = Headings(at, at + 1, both), count
    return best


def _names(row: Row) -> tuple[str, ...]:
    return tuple(cell_text(cell) for cell in row.cells)


def _are_units(row: Row) -> bool:
    return all(UNITS.match(cell_text(cell)) for cell in row.cells if is_filled(cell))


def _two_rows(upper: Row, lower: Row) -> tuple[str, ...] | None:
    """The names that two rows give together; None when the lower row looks like content."""
    if any(re.search(r"\d", name) for name in _names(lower)):
        return None
    return names_of_two_rows(_names(upper), lower)


def names_of_two_rows(above: Sequence[str], lower: Row, details: bool = False) -> tuple[str, ...]:
    """Make one name for each column of the words of two rows.

    Parameters
    ----------
    above
        Words of the upper row. Those of a group count for the columns to its right that have a name of their own below.
    lower
        The row below it.

    details
        Whether the lower row describes names that are complete: a text below a name that is no group is then joined by `DETAIL`.

    Returns
    -------
    tuple of str
        Both texts, joined by `JOINED` or `DETAIL`, or the one that is there.
    """
    width = max(len(above), len(lower.cells))
    below = (*_names(lower), *[EMPTY] * width)
    above = (*above, *[EMPTY] * width)
    names, group = [], EMPTY
    units = _are_units(lower)
    for at in range(width):
        own, name = above[at], below[at]
        if details and own and name and (above[at + 1] or not below[at + 1]):
            names.append(own + DETAIL + name)
            group = EMPTY
            continue
        group = own or (group if name and not units else EMPTY)
        names.append(JOINED.join(part for part in (group, name) if part))
    return tuple(names)
