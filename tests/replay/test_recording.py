"""A recorded run, read from its files."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from replay.recording import load_run
from tests.command import LOG, PLAN

RECEIVED = LOG.replace('"kind": "done"', '"received": "2031-04-12T09:52:00Z", "kind": "done"')


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path


def log_in(folder: Path, text: str, name: str = "run-1.jsonl") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def clock_of(text: str) -> datetime:
    hour, minute = text.split(":")
    return datetime(2031, 4, 12, int(hour), int(minute), tzinfo=UTC)


def ids(events) -> list[str]:
    return [event.id for event in events]


def test_a_folder_with_one_run_is_that_run(folder: Path):
    """And so is the log itself."""
    log = log_in(folder, LOG)
    assert load_run(folder).events == load_run(log).events
    assert (load_run(log).first, load_run(log).last) == (clock_of("9:10"), clock_of("9:47"))


def test_without_a_header_the_date_is_that_of_the_clock_event(folder: Path):
    """And the title is the sortie's, else the name of the log."""
    run = load_run(log_in(folder, LOG))
    assert (run.date, run.title, run.setting) == ("2031-04-12", "run-1", "")


def test_a_header_names_the_run(folder: Path):
    """Title, setting and date."""
    (folder / "run-1.toml").write_text(
        'title = "Pool run 3"\nsetting = "pool"\ndate = 2031-03-02\n', encoding="utf-8"
    )
    run = load_run(log_in(folder, LOG))
    assert (run.title, run.setting, run.date) == ("Pool run 3", "pool", "2031-03-02")


def test_an_event_without_received_counts_when_it_happened(folder: Path):
    """A log kept by hand has no other time."""
    run = load_run(log_in(folder, LOG))
    assert ids(run.known_at(clock_of("9:12"))) == ["e1", "e2", "e3"]


def test_an_event_entered_late_counts_when_it_was_entered(folder: Path):
    """Done at 9:46, entered at 9:52: the room did not know at 9:50."""
    run = load_run(log_in(folder, RECEIVED))
    assert ids(run.known_at(clock_of("9:50"))) == ["e1", "e2", "e3", "e5"]
    assert ids(run.known_at(clock_of("9:52"))) == ["e1", "e2", "e3", "e5", "e4"]
    assert run.last == clock_of("9:52")


def test_a_log_entered_as_a_whole_afterwards_is_replayed_as_it_happened(folder: Path):
    """When everything came in after the end, that says nothing about the run."""
    afterwards = LOG.replace('"kind"', '"received": "2031-04-20T12:00:00Z", "kind"')
    run = load_run(log_in(folder, afterwards))
    assert (run.first, run.last) == (clock_of("9:10"), clock_of("9:47"))


def test_one_wild_date_does_not_stretch_the_run(folder: Path):
    """A slip of the year stays a slip of one event."""
    run = load_run(
        log_in(folder, LOG + '{"id": "e6", "at": "2131-04-12T09:50:00Z", "kind": "note", "text": "x"}\n')
    )
    assert run.last == clock_of("9:47")


def test_lines_that_cannot_be_understood_appear_when_they_came(folder: Path):
    """A line that does not say when came in with the line before it."""
    line = '{"id": "e6", "at": "2031-04-12T09:20:00Z", "kind": "dance"}\n'
    run = load_run(log_in(folder, LOG + line + "scribble\n"))
    assert run.unread_at(clock_of("9:15")) == []
    assert len(run.unread_at(clock_of("9:20"))) == 1
    assert [unread.line for unread in run.unread_at(clock_of("9:47"))][-1] == "scribble"


def test_the_marks_are_the_instants_of_receipt_each_once(folder: Path):
    """What step goes through."""
    run = load_run(log_in(folder, RECEIVED))
    assert run.marks == [clock_of(text) for text in ("9:10", "9:11", "9:12", "9:47", "9:52")]


@pytest.mark.parametrize("names", [[], ["run-1.jsonl", "run-2.jsonl"]])
def test_a_folder_without_exactly_one_run_is_refused(folder: Path, names: list[str]):
    """With the names that are there."""
    for name in names:
        log_in(folder, LOG, name)
    with pytest.raises(InputError) as refused:
        load_run(folder)
    (problem,) = refused.value.problems
    assert problem.found == (", ".join(names) or "none")


@pytest.mark.parametrize("header", ["title = ", b"\xff\xfe", "title = [1"])
def test_a_header_that_is_no_toml_is_refused(folder: Path, header: str | bytes):
    """It is named."""
    (folder / "run-1.toml").write_bytes(header if isinstance(header, bytes) else header.encode())
    with pytest.raises(InputError) as refused:
        load_run(log_in(folder, LOG))
    assert refused.value.problems[0].where.partition(":")[0].endswith("run-1.toml")


def test_a_run_without_its_plan_is_refused(tmp_path: Path):
    """The plan is what the run is replayed against."""
    with pytest.raises(InputError) as refused:
        load_run(log_in(tmp_path, LOG))
    assert "plan.toml" in refused.value.problems[0].text()


def test_the_plan_may_stand_elsewhere(tmp_path: Path):
    """When it is named."""
    (tmp_path / "brief.toml").write_text(PLAN, encoding="utf-8")
    assert load_run(log_in(tmp_path, LOG), tmp_path / "brief.toml").plan.sortie.id == "t"


def test_a_run_begins_with_what_the_room_received_before_pet_zero(folder: Path):
    """On the day of the plan, minutes before PET zero are minutes before the planned start."""
    early = '{"id": "e0", "at": "2031-04-12T08:50:00Z", "kind": "note", "text": "Hatch checks"}\n'
    run = load_run(log_in(folder, early + LOG))
    assert (run.first, run.pet_zero_known) == (clock_of("8:50"), clock_of("9:10"))


def test_a_run_of_another_day_begins_when_pet_zero_is_known(folder: Path):
    """Before that, PET would count from a planned start of another day."""
    early = '{"id": "e0", "at": "2031-03-02T08:50:00Z", "kind": "note", "text": "Hatch checks"}\n'
    late_clock = LOG.replace('"kind": "clock"', '"received": "2031-03-02T09:10:06Z", "kind": "clock"')
    run = load_run(log_in(folder, early + late_clock.replace("2031-04-12", "2031-03-02")))
    assert run.first.isoformat() == "2031-03-02T09:10:06+00:00"
    assert ids(run.known_at(run.first)) == ["e0", "e1"]
