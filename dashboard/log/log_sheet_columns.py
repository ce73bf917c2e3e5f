"""Finds the columns of a log sheet that hold the time, who, what and the text.

A sheet with a column for the task and one for what became of it, such as `Task` and `Status`, has `what` in both. The words of
the first stand before those of the second.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.log.headings import JOINED, Fits
from dashboard.log.log_sheet_options import ClockTimes, SheetOptions
from dashboard.log.log_sheet_words import words_only
from dashboard.log.table import Table

FIELDS = ("time", "who", "what", "text")
NEEDED = ("time", "what")
NAMES: Mapping[str, tuple[str, ...]] = {
    "time": ("time", "pet", "utc", "at", "when", "clock", "time utc", "time pet", "pet time", "utc time"),
    "who": ("who", "by", "from", "caller", "crew", "lane", "position", "name"),
    "what": ("what", "event", "action", "entry", "status", "task", "item", "activity"),
    "text": ("text", "note", "notes", "remark", "remarks", "comment", "comments", "details", "description"),
}
ABOUT = "about"  # the column of the task, beside the one of `what`
NAMES_OF_ABOUT = ("task", "item", "activity")
CLOCK_TIMES_OF_COLUMN: Mapping[str, ClockTimes] = {
    "pet": "pet",
    "time pet": "pet",
    "pet time": "pet",
    "utc": "utc",
    "time utc": "utc",
    "utc time": "utc",
}


def fits_log(options: SheetOptions) -> Fits:
    """Make a function that counts the columns of a log sheet among the names of a row.

    Parameters
    ----------
    options
        Names of columns that the user gave.

    Returns
    -------
    callable
        Gives 0 for names without a time and an entry, so that a title row is never taken for the headings.
    """

    def fits(names: Sequence[str]) -> int:
        found = {field for field, column in options.columns.items() if column in names}
        found |= {field for field in FIELDS if field not in options.columns and any(_is_name_of(name, field) for name in names)}
        return len(found) if found >= {*NEEDED} else 0

    return fits


def _is_name_of(name: str, field: str) -> bool:
    """Whether a column is named by a common name of a field. Of a name of two rows the lower part counts before the upper."""
    said = (words_only(part) for part in (name, *reversed(name.split(JOINED))))
    return field == next((one for part in said for one, names in NAMES.items() if part in names), None)


def columns_of(table: Table, options: SheetOptions) -> dict[str, int]:
    """Find the column of each field that the sheet has.

    Parameters
    ----------
    table
        The sheet.
    options
        Names of columns that the user gave take precedence over the common names.

    Returns
    -------
    dict
        Column, counted from 0, by field (`FIELDS`, `ABOUT`). A field that the sheet does not have is left out; `NEEDED` ones
        never are.

    Raises
    ------
    InputError
        When a needed column is missing, when several columns fit a field, or when `options` name a column that is not there.
    """
    path, names = str(table.path), table.columns
    found: dict[str, int] = {}
    problems = []
    for field, column in options.columns.items():
        if field not in FIELDS:
            problems.append(Problem(
                "option --columns", f"one of {', '.join(FIELDS)}", f"'{field}'", did_you_mean(field, FIELDS)
            ))
        elif column not in names:
            problems.append(Problem(
                f"option --columns, {field}", "the name of a column of the sheet", f"'{column}'",
                did_you_mean(column, names), path,
            ))
        else:
            found[field] = names.index(column)
    for field in (field for field in FIELDS if field not in found):
        fits = [at for at, name in enumerate(names) if _is_name_of(name, field) and at not in found.values()]
        about = [at for at in fits if words_only(names[at].split(JOINED)[-1]) in NAMES_OF_ABOUT]
        if field == "what" and len(fits) == 2 and len(about) == 1:
            found[ABOUT] = about[0]
            fits.remove(about[0])
        if len(fits) > 1:
            several = ", ".join(names[at] for at in fits)
            problems.append(Problem(
                f"column for '{field}'", "one column", f"{len(fits)}: {several}",
                f"Choose one, for instance --columns {field}={names[fits[0]]}.", path,
            ))
        elif fits:
            found[field] = fits[0]
    for field in NEEDED:
        if field not in found and not problems:
            problems.append(Problem(
                f"column for '{field}'", f"a column named {', '.join(NAMES[field][:4])} or similar",
                f"columns {', '.join(names)}", f"Name the column: --columns {field}=...", path,
            ))
    if problems:
        raise InputError(problems)
    return found
