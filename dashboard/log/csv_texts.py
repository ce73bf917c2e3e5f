"""Texts in cells of CSV that a spreadsheet would take for a formula.

A spreadsheet computes a cell of CSV that begins with =, +, - or @. So the writers put an apostrophe before such a text, which
the spreadsheet shows as text, and the reader takes it off again. Numbers and times stay as they are.
"""

from __future__ import annotations

import re
from typing import TypeVar

Cell = TypeVar("Cell")

MARK = "'"
_FORMULA = re.compile(r"'*[=+@\t\r-]")
_NUMBER = re.compile(r"[+-][\d.,:]+([eE][+-]?\d+)?")


def guarded(cell: Cell) -> Cell | str:
    """A cell as it is written.

    Parameters
    ----------
    cell
        Of any kind.

    Returns
    -------
    same kind, or str
        A text that begins like a formula gets an apostrophe before it, and so does one that would be read as such.
    """
    is_formula = isinstance(cell, str) and _FORMULA.match(cell) and not _NUMBER.fullmatch(cell)
    return f"{MARK}{cell}" if is_formula else cell


def unguarded(cell: str) -> str:
    """A cell as it was before `guarded`.

    Parameters
    ----------
    cell
        As read.

    Returns
    -------
    str
        Without the apostrophe before what begins like a formula.
    """
    return cell[len(MARK):] if cell.startswith(MARK) and _FORMULA.match(cell) else cell
