"""The header of a recorded run: a small TOML file beside its log. It is checked like a plan.

Every key may be absent. `setting` says where the run was made. Learning separates the settings, and scores and learning
separate simulated runs from recorded ones. Therefore a header with any error is refused as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

import tomlkit

from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.base.times import parse_instant
from dashboard.log.limits import RUN_HEADER_MB
from dashboard.log.planfile import read_toml
from dashboard.log.textfile import read_text
from dashboard.log.toml_lines import line_numbers

WHAT = "a header of a run (TOML)"
SETTINGS = ("pool", "mock-up", "table-top", "flight", "simulated")


def read_header(path: Path) -> dict[str, str]:
    """Read the header of a run.

    Parameters
    ----------
    path : Path

    Returns
    -------
    dict of str to str
        By key; empty when there is no file or it is empty.

    Raises
    ------
    InputError
        When the file is not a valid header. It carries every problem.
    """
    if not path.is_file() or not path.stat().st_size:
        return {}
    text = read_text(path, WHAT, RUN_HEADER_MB)
    table = read_toml(text, path, WHAT)
    lines = line_numbers(text)
    problems = [
        Problem(f"header of the run, key '{key}'", *wrong, f"{path}:{lines.get((key,), 1)}")
        for key, value in table.items() if (wrong := _wrong(key, value)) is not None
    ]
    if problems:
        raise InputError(problems)
    return {key: str(value) for key, value in table.items()}


def header_text(header: Mapping[str, str]) -> str:
    """The text of a header file: the keys of `KEYS` that have a value, in the order of `KEYS`.

    Parameters
    ----------
    header
        Keys that are not in `KEYS` are left out.

    Returns
    -------
    str
        TOML.
    """
    document = tomlkit.document()
    for key in KEYS:
        if header.get(key):
            document[key] = header[key]
    return tomlkit.dumps(document)


def checked_setting(setting: str) -> str:
    """Check a setting, and return it.

    Parameters
    ----------
    setting
        As a user gave it.

    Returns
    -------
    str

    Raises
    ------
    InputError
        When it is not one of `SETTINGS`.
    """
    if (wrong := _setting(setting)) is not None:
        raise InputError([Problem("setting of the run", *wrong)])
    return setting


Wrong = tuple[str, str, str]  # expected, found, cure


def _wrong(key: str, value: Any) -> Wrong | None:
    if key not in KEYS:
        return "a key of the header", f"'{key}'", did_you_mean(key, KEYS)
    return KEYS[key](value)


def _text(value: Any) -> Wrong | None:
    return None if isinstance(value, str) else ("text in quotes", _shown(value), "Correct it, or take the key out.")


def _setting(value: Any) -> Wrong | None:
    if value in SETTINGS:
        return None
    return f"one of {', '.join(SETTINGS)}", _shown(value), did_you_mean(str(value), SETTINGS)


def _date(value: Any) -> Wrong | None:
    if isinstance(value, date) and not isinstance(value, datetime):
        return None
    return _read_by(date.fromisoformat, value, "a day such as 2031-03-02")


def _instant(value: Any) -> Wrong | None:
    return _read_by(parse_instant, value, "an instant such as 2031-03-02T11:15:00Z")


def _read_by(reader: Callable[[str], object], value: Any, expected: str) -> Wrong | None:
    try:
        if isinstance(value, str):
            reader(value)
            return None
    except ValueError:
        pass
    return expected, _shown(value), "Correct it, or take the key out."


def _shown(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else f"'{value}'"


KEYS: Mapping[str, Callable[[Any], Wrong | None]] = {
    "title": _text,
    "setting": _setting,
    "date": _date,
    "notes": _text,
    "parent": _text,
    "from": _instant,
}
