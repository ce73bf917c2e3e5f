"""Finds the lanes of the tasks of a sheet: in a column of lists, or in one column of marks for each lane.

A word that stands for several lanes, such as `Both`, and words that may be one lane or several are refused, never guessed.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from dashboard.log.log_sheet_words import words_only
from dashboard.log.plan_sheet_cells import YES_NO_WORDS, plan_value
from dashboard.log.plan_sheet_columns import MARK, MAY_BE_LANES, Column, is_lane_name
from dashboard.log.rows import Row, cell_text, is_filled

WORDS_FOR_LANES = ("both", "all", "both crew", "all crew", "crew", "everyone", "either", "any", "tbd", "tbc", "n a", "none")


def with_lanes(columns: list[Column], rows: Sequence[Row], known: Collection[str]) -> list[Column]:
    """Find the columns that hold the lanes, by what stands below them.

    Parameters
    ----------
    columns
        As their names say.
    rows
        The rows below the names.
    known
        Names of the lanes of the plan, as far as they are known.

    Returns
    -------
    list of Column
        The same where a column is named for the lanes; else one named `By` or the like becomes theirs where every cell names
        nothing but lanes; else those named like a lane become marks of it where they hold nothing but marks.
    """
    return _marks(_lists(columns, rows, known), rows, known)


def _lists(columns: list[Column], rows: Sequence[Row], known: Collection[str]) -> list[Column]:
    """The columns, of which one with a name such as `By` holds the lanes where every cell below it names nothing but lanes."""
    if any(one.key == "lanes" and one.wanted for one in columns):
        return columns

    def holds_lanes(at: int, one: Column) -> bool:
        cells = [cell_text(row.cells[at]) for row in rows if at < len(row.cells) and is_filled(row.cells[at])]
        named = [name for cell in cells for name in plan_value("lanes", cell, known=known).value]
        fits = one.wanted and words_only(one.lane) in MAY_BE_LANES
        return fits and bool(named) and all(is_lane_name(name, known) for name in named)

    found = [at for at, one in enumerate(columns) if not one.key and holds_lanes(at, one)]
    return [one._replace(key="lanes") if found == [at] else one for at, one in enumerate(columns)]


def _marks(columns: list[Column], rows: Sequence[Row], known: Collection[str]) -> list[Column]:
    """The columns, of which those named like a lane are marks of that lane where they hold nothing but marks."""
    if any(one.key == "lanes" and one.wanted for one in columns):
        return columns
    made = []
    for at, one in enumerate(columns):
        cells = [cell_text(row.cells[at]).casefold() for row in rows if at < len(row.cells) and is_filled(row.cells[at])]
        is_lane = one.named and not one.key and is_lane_name(one.lane, known)
        made.append(one._replace(key=MARK) if is_lane and all(cell in YES_NO_WORDS for cell in cells) else one)
    return made


def fault_of_lanes(text: str, names: Sequence[str], are_several: bool, known: Collection[str]) -> tuple[str, str, str] | None:
    """Find why a cell does not name lanes one by one.

    Parameters
    ----------
    text
        The cell.
    names
        The names that its words give.
    are_several
        Whether the cell certainly lists several names, however they are written.
    known
        Names of the lanes of the plan, as far as they are known.

    Returns
    -------
    tuple of str or None
        What is expected, what is found, and the cure; None: it names them.
    """
    if words_only(text) in WORDS_FOR_LANES and text not in known:
        return "the names of the lanes", f"'{text}'", "Write them, for instance EV1 EV2."
    if len(names) > 1 and not are_several and not all(is_lane_name(name, known) for name in names):
        cure = f"Separate lanes by commas ({', '.join(names)}), or write a lane without spaces ({'-'.join(names)})."
        return "the names of the lanes", f"'{text}', which may be one lane or {len(names)}", cure
    return None
