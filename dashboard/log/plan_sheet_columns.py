"""Finds which key of a task each column of a sheet holds: by the key itself, or by the common names of real sheets.

1. A name may carry a unit in brackets or behind it: ``Duration (min)``, ``Start PET``. Hours become minutes when the cells
   are read.
2. `END`, `LOW`, `LIKELY` and `HIGH` are columns that no task has: the end gives the duration, the three others make one.
3. Several columns below one heading for the lanes, such as ``Crew`` above ``EV1`` and ``EV2``, are columns of these lanes.
4. `MAY_BE_LANES` are names that mean the lanes only where the cells below them hold nothing but lanes.
5. A column of starts or ends in UTC or another time of day is an error: a plan holds PETs.
6. A name that is nearly a key is an error. Any other name is a further column: its cells are kept in the notes of the task.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Container, Mapping, Sequence
from typing import NamedTuple

from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.plan.model import Task
from dashboard.log.headings import DETAIL, JOINED
from dashboard.log.log_sheet_words import words_only

CONTINGENCY = "contingency"
COLUMNS = (*Task.model_fields, CONTINGENCY)
END, LOW, LIKELY, HIGH = "end", "low", "likely", "high"
FURTHER = (END, LOW, LIKELY, HIGH)
NAMES: Mapping[str, tuple[str, ...]] = {
    "id": ("no", "nr", "number", "task id", "task no", "task nr", "task number", "step id", "step no", "step", "ref", "item",
           "#"),
    "title": ("name", "task name", "task title", "description", "task description", "what"),
    "lanes": ("lane", "crew", "who", "crew member", "crew members", "assigned", "assigned to", "worker", "workers",
              "performed by", "done by", "carried out by", "crew assigned"),
    "start": ("begin", "begins", "from", "start time", "planned start", "briefed start", "pet", "pet start"),
    "duration": ("dur", "length", "planned duration", "time needed", "how long", "estimate"),
    END: ("finish", "stop", "until", "to", "end time", "planned end", "planned finish"),
    LOW: ("duration low", "optimistic", "best case", "shortest case", "at least"),
    LIKELY: ("duration likely", "most likely", "expected"),
    HIGH: ("duration high", "pessimistic", "worst case", "at most", "max", "maximum"),
    "shortest": ("shortest useful", "minimum duration", "trim to"),
    "after": ("predecessor", "predecessors", "depends on", "dependency", "dependencies", "requires", "prerequisite",
              "prerequisites", "prereq", "prereqs"),
    "priority": ("prio", "priority class"),
    "worksite": ("location", "site", "place", "where", "work site"),
    "workload": ("metabolic rate", "effort"),
    "needs": ("window", "windows"),
    "required": ("mandatory", "must do"),
    "get_ahead": ("getahead",),
    "closeout": ("close out", "close out minutes"),
    "can_move_to": ("can be handed to", "backup", "backup lane"),
    "not_before": ("earliest", "earliest start"),
    "activity": ("kind of work",),
    "notes": ("note", "remark", "remarks", "comment", "comments", "details"),
}  # fmt: skip
MAY_BE_LANES = ("by", "responsible", "assignee", "ev", "position")
MARK = "lane"  # a mark that the lane of the heading does the task
TASK = "task"  # the id where every cell below it is one word, else the title
_KEYS = {words_only(key): key for key in (*COLUMNS, *FURTHER)} | {
    (words_only(name) or name): key for key, names in NAMES.items() for name in names
}
_UNIT = re.compile(
    r"^(?P<name>.*?)[\s,:]*(?:[(\[]\s*(?P<inside>[^()\[\]]+?)\s*[)\]]|(?<=[\s,:])(?P<behind>pet|mins?|minutes|h|hrs?|hours|w|watts?))$",
    re.IGNORECASE | re.DOTALL,
)
HOURS = ("h", "hr", "hrs", "hour", "hours")
_BY_THE_CLOCK = ("start", END, "not_before")
_UNITS = (
    *HOURS, "min", "mins", "minutes", "m", "pet", "pet h mm", "h mm", "hh mm", "h mm ss", "hh mm ss", "w", "watt", "watts",
    "yes no", "x",
)  # fmt: skip
NEARLY = 0.85
_OF_DAY = re.compile(r"^(?P<name>.*?)[\s,:/|(\[]*\b(?:utc|gmt|zulu|local(?: time)?|time of day)[)\]]?$", re.IGNORECASE)
_MINUTES = ("min", "mins", "minutes", "m", "mm")
_LOWEST = ("min", "minimum")  # of three points, below the heading of the duration
_LANE_NAME = re.compile(r"^(?:EV|CM|crew)[-_ ]?\d+$|^\w*arm\w*$", re.IGNORECASE)


class Column(NamedTuple):
    """What a column of a sheet holds.

    Parameters
    ----------
    heading
        Its name in the sheet; for a column without a name its letters.
    key
        A key of a task, `CONTINGENCY`, one of `FURTHER`, or `MARK`; empty when the column holds something else.
    unit
        The unit that the heading gives, in lower case; empty when it gives none.
    wanted
        False when its cells are to be left out.
    named
        Whether the sheet names the column.
    """

    heading: str
    key: str
    unit: str = ""
    wanted: bool = True
    named: bool = True

    @property
    def lane(self) -> str:
        """The lane that a mark below it means: its name, of a name of two rows the lower part."""
        return self.heading.rpartition(JOINED)[2]

    @property
    def in_hours(self) -> bool:
        """Whether plain numbers below it are hours."""
        return self.unit in HOURS


def key_of(name: str) -> tuple[str, str]:
    """Find the key that the name of a column means.

    Parameters
    ----------
    name
        The name in the sheet; a name of several rows is tried as a whole, then from its lowest part to its highest, units last.

    Returns
    -------
    str
        A key of `COLUMNS` or `FURTHER`, or `TASK`; empty when no key is meant.
    str
        The unit that the name gives, in lower case; empty when it gives none.
    """
    name, _, detail = name.partition(DETAIL)
    parts = name.split(JOINED)
    units = [part for part in parts[1:] if words_only(part) in _UNITS]
    for part in dict.fromkeys((name, *(part for part in reversed(parts) if part not in units), *units)):
        words = words_only(part) or part.strip()
        if words in _KEYS or words == TASK:
            return _KEYS.get(words, TASK), _last_unit([*parts[1:], detail] if detail else parts[1:])
        found = _UNIT.match(part.strip())
        unit = words_only(found["inside"] or found["behind"]) if found else ""
        if found and unit in _UNITS and (key := _KEYS.get(words_only(found["name"]))):
            return key, unit
    return "", ""


def _last_unit(parts: Sequence[str]) -> str:
    """The unit that the lower part of a name gives; hours also in a sentence, since numbers would be read as minutes."""
    unit = words_only(parts[-1]) if parts else ""
    if unit in _UNITS:
        return unit
    words = unit.split()
    return "hours" if any(word in HOURS for word in words) and not any(word in _MINUTES for word in words) else ""


def is_lane_name(name: str, known: Container[str]) -> bool:
    """Tell whether a word names a lane.

    Parameters
    ----------
    name
        The word.
    known
        Names of the lanes of the plan, as far as they are known.

    Returns
    -------
    bool
        Whether it is known, or has the form of a common name such as ``EV1`` or ``ARM``.
    """
    return name in known or _LANE_NAME.match(name) is not None


def fits_tasks(names: Sequence[str]) -> int:
    """Count the columns of a task sheet among the names of a row.

    Parameters
    ----------
    names
        Texts of the row.

    Returns
    -------
    int
        How many keys the names mean; 0 when neither an id nor a title is among them.
    """
    keys = {key_of(name)[0] for name in names if name} - {""}
    return len(keys) if keys & {"id", "title", TASK} else 0


def _below_a_group(key: str, name: str, names: Sequence[str]) -> str:
    """The key of a name of two rows, by what stands beside it below the same group."""
    upper, joined, lower = name.rpartition(JOINED)
    beside = [other.rpartition(JOINED)[2] for other in names if joined and other.rpartition(JOINED)[0] == upper]
    if key == "lanes" and joined and (len(beside) > 1 or is_lane_name(lower, ())):
        return ""
    if key == "duration" and words_only(lower) in _LOWEST and any(key_of(one)[0] == HIGH for one in beside):
        return LOW
    return key


def columns_of_tasks(
    names: Sequence[str], letters: Sequence[str], given: Mapping[str, str], left_out: Sequence[str], where: str
) -> tuple[list[Column], list[Problem]]:
    """Find what each column of a task sheet holds.

    Parameters
    ----------
    names
        Names in the sheet; empty for a column without a name.
    letters
        Name of each column, or its letters where it has no name.
    given
        Name of a column in the sheet, by key: what the user said.
    left_out
        Names or letters of columns whose cells are not wanted.
    where
        Address of the row of names, for problems.

    Returns
    -------
    list of Column
        One for each name.
    list of Problem
        For a column that is nearly a key, and for two columns of one key.

    Raises
    ------
    InputError
        When `given` or `left_out` name what is not there.
    """
    wrong = [
        Problem("option --columns", "a key of [[task]], or 'contingency'", f"'{key}'", did_you_mean(key, (*COLUMNS, *FURTHER)))
        for key in given if key not in (*COLUMNS, *FURTHER)
    ]
    wrong += [
        Problem(f"option {option}", "the name of a column of the sheet", f"'{name}'", did_you_mean(name, letters), where)
        for option, wanted in (("--columns", given.values()), ("--leave-out", left_out)) for name in wanted if name not in letters
    ]
    if wrong:
        raise InputError(wrong)
    said = {name: key for key, name in given.items()}
    columns: list[Column] = []
    problems: list[Problem] = []
    for name, letter in zip(names, letters, strict=True):
        key, unit = key_of(name)
        key = _below_a_group(key, name, names)
        key = said.get(letter, "" if key in given else key)
        columns.append(Column(letter, key, unit, letter not in left_out, bool(name)))
        if letter in left_out or not name:
            continue
        if key and key in [one.key for one in columns[:-1] if one.wanted]:
            first = next(one.heading for one in columns if one.key == key and one.wanted)
            choice = f"Say which one is meant: --columns {key}='{first}' --leave-out '{letter}', or the other way round."
            problems.append(Problem(
                f"column '{name}'", f"one column for '{key}'", f"a second one; the first is '{first}'",
                choice if first != letter else "Remove one of the two, or rename it.", f"{where}, column {letter}",
            ))
        elif not key and (of_day := _OF_DAY.match(name)) and key_of(of_day["name"] or "start")[0] in _BY_THE_CLOCK:
            problems.append(Problem(
                f"column '{name}'", "PETs, since a plan begins at PET zero", "times of day",
                f"Subtract PET zero in the spreadsheet and name the column 'Start PET', or leave it out: --leave-out '{letter}'.",
                f"{where}, column {letter}",
            ))
        elif not key and (near := difflib.get_close_matches(words_only(name), _KEYS, n=1, cutoff=NEARLY)):
            problems.append(Problem(
                f"column '{name}'", "a key of [[task]], or 'contingency'", f"'{name}'",
                f"Did you mean '{_KEYS[near[0]]}'? Rename it, or leave it out: --leave-out '{name}'.",
                f"{where}, column {letter}",
            ))
    return columns, problems
