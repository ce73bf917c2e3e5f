"""A library of recorded runs: finding and reading them under a folder, and writing one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.event import Event
from dashboard.log.logfile_writer import lines_of_log
from dashboard.log.textfile import refusal
from dashboard.log.whole_file import write_together
from replay.header import header_text
from replay.recording import (
    HEADER_NAME,
    LOG_NAME,
    PLAN_NAME,
    RecordedRun,
    load_run,
    logs_in,
)


@dataclass(frozen=True)
class BrokenRun:
    """A run that cannot be read or cannot be used, and why."""

    name: str
    why: str


Named = tuple[str, RecordedRun | BrokenRun]


def find_logs(root: Path) -> list[Path]:
    """Find the logs of all recorded runs at or below a folder.

    Parameters
    ----------
    root : Path
        A folder, or one log.

    Returns
    -------
    list of Path
        In the order of their paths. Only `root` if it is a log.

    Raises
    ------
    InputError
        When there is none.
    """
    if root.is_file():
        if root.suffix.lower() == ".toml":
            cure = "Name the log, or the folder that holds it and its plan."
            raise refusal(root, "a folder of recorded runs, or one log (JSON Lines or CSV)", "a plan or a header (TOML)", cure)
        return [root]
    folders = [root, *sorted(path for path in root.rglob("*") if path.is_dir())] if root.is_dir() else []
    found = [log for folder in folders for log in logs_in(folder)]
    if not found:
        what = "no such folder" if not root.exists() else f"none at or below {root.name}"
        expected = f"recorded runs: folders with {PLAN_NAME} and {LOG_NAME} (or run-*.jsonl)"
        raise InputError(
            [Problem("library of runs", expected, what, "Name the folder that holds them.", str(root))]
        )
    return found


def _name_of(log: Path, root: Path) -> str:
    """The name of a run in its library: its path below the root without the name of the log."""
    if root.is_file():
        return log.parent.name if log.name == LOG_NAME else log.stem
    inside = log.relative_to(root)
    path = inside.parent if log.name == LOG_NAME else inside.with_suffix("")
    return path.as_posix() if path.parts else root.resolve().name


def load_all(root: Path, plan_path: Path | None = None) -> Iterator[Named]:
    """Read every run of a library.

    Parameters
    ----------
    root : Path
        A folder, or one log.
    plan_path : Path or None
        The plan of all runs; None: the plan beside each log.

    Yields
    ------
    (str, RecordedRun or BrokenRun)
        Name and run. A run that cannot be read is a `BrokenRun` with the reason.

    Raises
    ------
    InputError
        When there is no run.
    """
    for log in find_logs(root):
        name = _name_of(log, root)
        try:
            yield name, load_run(log, plan_path)
        except InputError as wrong:
            more = f" (and {len(wrong.problems) - 1} more)" if len(wrong.problems) > 1 else ""
            yield name, BrokenRun(name, wrong.problems[0].text() + more)


def write_run(
    folder: Path,
    plan_text: str,
    events: Iterable[Event],
    header: Mapping[str, str],
    unread: Sequence[Unread] = (),
    *,
    replace_log: bool = False,
) -> None:
    """Write a run as a folder of its own.

    Parameters
    ----------
    folder : Path
        Made if it does not exist. A folder that already holds a run is refused.
    plan_text : str
        The plan file; it is written unchanged.
    events : iterable of event models
    header : mapping of str to str
        With keys of `replay.header.KEYS`.
    unread : sequence of Unread
        Lines that could not be understood; they are written unchanged.
    replace_log : bool
        Whether to overwrite the run in the folder, because it is an earlier version of this run.

    Raises
    ------
    InputError
        When the folder already holds a run, or cannot be written.
    """
    if (
        not replace_log
        and folder.is_dir()
        and any((folder / name).exists() for name in (PLAN_NAME, LOG_NAME, HEADER_NAME))
    ):
        raise InputError(
            [
                Problem(
                    "folder of the run",
                    "a folder without a run",
                    "one that holds a run",
                    "Choose another.",
                    str(folder),
                )
            ]
        )
    texts = {PLAN_NAME: plan_text, HEADER_NAME: header_text(header), LOG_NAME: lines_of_log(events, unread)}
    try:
        write_together(
            {folder / name: text.encode() for name, text in texts.items()}, to_disk=True, make_folders=True
        )
    except OSError as wrong:
        found = str(wrong.strerror)
        raise InputError(
            [
                Problem(
                    "folder of the run", "a place to write it", found, "Choose another folder.", str(folder)
                )
            ]
        ) from None
