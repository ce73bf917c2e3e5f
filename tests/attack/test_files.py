"""Whatever file is handed in, it is read or refused in words: hostile plans, sheets and logs."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError, Problem
from tests.attack.files import Findings, Hostile, try_files, try_one

COUNT, SEED = 300, 1
NAMES = ("plan.toml", "tasks.csv", "tasks.xlsx", "sheet.csv", "sheet.xlsx", "log.csv", "log.jsonl")


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Findings:
    return try_files(tmp_path_factory.mktemp("files"), COUNT, SEED)


def test_no_file_ends_in_a_stack_trace(found: Findings):
    """Each is read, or refused with what was expected, what was found and what to do; a plan that is read gives a state."""
    assert not found.faults, "\n".join(found.faults[:5])
    assert sum(found.counts.values()) == COUNT


@pytest.mark.parametrize("name", NAMES)
def test_files_of_each_sort_are_read_and_refused(found: Findings, name: str):
    """The attack is neither so mild that all of them pass, nor so wild that none does."""
    assert found.counts[f"{name} read"] and found.counts[f"{name} refused"]


def no_cure(_: Path) -> None:
    raise InputError([Problem("plan", "something", "else", " ")])


def too_long(_: Path) -> None:
    raise InputError([Problem("plan", "something", "else", "x" * 5_000)])


def breaks(_: Path) -> None:
    raise KeyError("T010")


@pytest.mark.parametrize(("read", "says"), [(no_cure, "without cure"), (too_long, "characters"), (breaks, "KeyError")])
def test_a_fault_of_a_reader_is_found(tmp_path: Path, read, says: str):
    """A stack trace, and a problem that does not tell what to do."""
    (fault,) = try_one(Hostile("plan.toml", b"x", read, "changed"), tmp_path).faults
    assert says in fault
