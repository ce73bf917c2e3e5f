"""Plan, log and instant as every command that reads a log takes them: what a person may get wrong is said with its cure."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from tests.command import (
    LATE_PLAN,
    LOG,
    PLAN,
    assert_bad_input,
    tetherline,
    written,
)

OTHERS = LOG.replace('"e', '"o').replace('"kind"', '"sortie": "lantern-9", "kind"')
STRANGE = "".join(
    json.dumps({"id": f"x{n}", "at": "2031-04-12T09:20:00Z", "kind": "start", "task": f"Q{n}"}) + "\n" for n in range(30)
)
FAR = '{"id": "f", "at": "9999-12-31T23:59:59Z", "kind": "note", "text": "x"}\n'
ZONE = '{"id": "f", "at": "0001-01-01T00:00:00+14:00", "kind": "note", "text": "x"}\n'
READING = ("state", "suits", "advise")


@pytest.mark.parametrize("command", READING)
def test_lines_that_are_left_out_are_listed(sortie: Path, command: str):
    """Another sortie's lines among ours: every command that reads the log says so."""
    log = written(sortie, "log.jsonl", LOG + OTHERS)
    done = tetherline(command, sortie / "plan.toml", log)
    assert done.returncode == 0
    assert "Could not be understood (5)" in done.stdout
    assert "lantern-9" in done.stdout


def test_advice_as_json_says_so_beside_it(sortie: Path):
    """On standard error; what is printed stays JSON."""
    done = tetherline("advise", sortie / "plan.toml", written(sortie, "log.jsonl", LOG + OTHERS), "--json")
    assert json.loads(done.stdout)["caution"]
    assert "5 lines of the log could not be understood" in done.stderr


@pytest.mark.parametrize("command", READING)
@pytest.mark.parametrize(("log", "says"), [(STRANGE, "an event that fits the plan (events: 30)"), (OTHERS, "'lantern-9'")])
def test_a_log_of_which_nothing_can_be_used_is_refused(sortie: Path, command: str, log: str, says: str):
    """Events that can be read but name nothing of the plan are no state of this sortie."""
    done = tetherline(command, sortie / "plan.toml", written(sortie, "log.jsonl", log))
    assert_bad_input(done, "log.jsonl", says)
    assert done.stdout == ""


@pytest.mark.parametrize("command", [*READING, "debrief", "score", "replay"])
def test_a_log_that_plainly_belongs_to_another_plan_is_warned_of(sortie: Path, command: str):
    """Most of its tasks are unknown, though its clock and one task fit: one line, the same everywhere, and it goes on."""
    log = written(sortie, "log.jsonl", LOG.splitlines()[0] + "\n" + LOG.splitlines()[1] + "\n" + STRANGE)
    plan = [] if command in ("score", "replay") else [sortie / "plan.toml"]
    more = ["--at", "99:00", "--no-browser"] if command == "replay" else []
    done = tetherline(command, *plan, log, *more)
    warnings = [line for line in done.stderr.splitlines() if line.startswith("warning: ")]
    assert len(warnings) == 1, done.stderr
    assert "a log of sortie 't'; found one that names 31 tasks, 30 of which are not in the plan (Q0, Q1, Q10, ...)" in warnings[0]


def test_a_log_mostly_of_another_sortie_is_warned_of(sortie: Path):
    """By the sortie that its events name."""
    log = written(sortie, "log.jsonl", LOG.splitlines()[0] + "\n" + OTHERS)
    done = tetherline("state", sortie / "plan.toml", log)
    assert "warning: " in done.stderr and "5 of 6 events are of sortie 'lantern-9'" in done.stderr


def test_an_event_dated_far_off_is_not_taken_for_the_last(sortie: Path):
    """A slip of the year does not move the sortie there; it is named."""
    done = tetherline("state", sortie / "plan.toml", written(sortie, "log.jsonl", LOG + FAR))
    assert (done.returncode, "PET 0:37" in done.stdout) == (0, True)
    assert "warning: 1 event is dated far off" in done.stderr


def test_a_training_day_weeks_before_the_flight_is_no_slip(sortie: Path):
    """Its clock event and its work agree."""
    trained = LOG.replace("2031-04-12", "2031-03-02")
    done = tetherline("state", sortie / "plan.toml", written(sortie, "log.jsonl", trained))
    assert (done.returncode, "PET 0:37" in done.stdout, done.stderr) == (0, True, "")


def test_a_time_beyond_the_calendar_is_an_unread_line(sortie: Path):
    """Year 1 with an offset lies before any calendar."""
    done = tetherline("state", sortie / "plan.toml", written(sortie, "log.jsonl", LOG + ZONE))
    assert done.returncode == 0
    assert "years 1 to 9999" in done.stdout


def test_a_pet_before_the_clock_event_is_refused(sortie: Path):
    """The run is of another day: five minutes before its PET zero nobody could tell that PET."""
    later = LOG.replace("2031-04-12", "2031-05-23")
    log = written(sortie, "log.jsonl", later)
    assert_bad_input(tetherline("state", sortie / "plan.toml", log, "--at", "-5"), "option --at", "the clock event")
    assert tetherline("state", sortie / "plan.toml", log, "--at", "0:05").returncode == 0


WRONG_PLANS = {
    "a start": (PLAN.replace("start = 0\n", "start = 1e300\n", 1), "at most 1440"),
    "a start without a number": (PLAN.replace("start = 0\n", "start = nan\n", 1), "finite"),
    "a start before PET zero": (PLAN.replace("start = 0\n", "start = -1e9\n", 1), "0 or more"),
    "a duration": (PLAN.replace("duration = 60", "duration = 1e300"), "1440"),
    "no end of a duration": (PLAN.replace("duration = 60", "duration = inf"), "finite"),
    "a limit": (PLAN.replace('limit = "7:00"', "limit = 1e300"), "1440"),
    "not before": (PLAN.replace('id = "T020"', 'id = "T020"\nnot_before = 1e300'), "1440"),
    "a value": (PLAN.replace('id = "T020"', 'id = "T020"\nvalue = 1e300'), "1e+06"),
    "what is loaded": (PLAN.replace("loaded = 0.55", "loaded = 1e300"), "1e+06"),
    "a circle": (PLAN.replace('id = "T020"', 'id = "T020"\nafter = ["T040"]'), "without a circle"),
    "a log": (LOG, "JSON, such as an event log"),
    "empty": ("", "an empty file"),
    "binary": (b"PK\x03\x04\x00\x00" * 50, "a binary file"),
    "latin-1": (PLAN.replace("Unstow", "Unst\xf6w").encode("latin-1"), "not UTF-8"),
    "10 MB": (b"\x8f" * 10_000_000, "at most 5 MB"),
}


@pytest.mark.parametrize("name", WRONG_PLANS)
def test_a_plan_that_makes_no_sense_is_refused(sortie: Path, name: str):
    """With what was expected, found and where; short enough to read."""
    content, says = WRONG_PLANS[name]
    done = tetherline("state", written(sortie, "wrong.toml", content), sortie / "run-1.jsonl")
    assert_bad_input(done, "wrong.toml", says)
    assert max(map(len, done.stderr.splitlines())) < 400


@pytest.mark.parametrize("command", ["state", "suits", "advise"])
def test_a_plan_that_ends_past_its_own_limit_is_followed_with_a_warning(plan: Path, log: Path, command: str):
    """It does not pass its check, but a room that flies it needs the figures."""
    plan.write_text(LATE_PLAN, encoding="utf-8")
    assert tetherline("check", plan).returncode == 2
    done = tetherline(command, plan, log)
    assert done.returncode == 0, done.stderr
    assert "PET 0:37" in done.stdout
    (line,) = done.stderr.splitlines()
    assert line.startswith("warning: ") and "expected an end by the limit (PET 7:00)" in line


NOISE = random.Random(2).randbytes(10_000_000)
WRONG_LOGS = {
    "blank": ("\n\n", ""),
    "ten megabytes of noise": (NOISE, ""),
    "binary": (b"PK\x03\x04" + b"\x00" * 300, ""),
    "UTF-16": (LOG.encode("utf-16"), ""),
    "a plan": (PLAN, "a plan file"),
    "prose": ("The crew went out at nine.\n", "no line that can be read"),
    "times with no zone": (LOG.replace("Z", ""), "zone"),
    "of another sortie": (LOG.replace('"kind"', '"sortie": "lantern-9", "kind"'), "lantern-9"),
    "deep nesting": ("[" * 100_000 + "\n", ""),
}


@pytest.mark.parametrize("name", WRONG_LOGS)
def test_a_file_that_is_no_log_of_this_sortie_is_refused(plan: Path, tmp_path: Path, name: str):
    """Exit code 2 and the problem in one line."""
    content, says = WRONG_LOGS[name]
    log = tmp_path / "log.jsonl"
    log.write_bytes(content if isinstance(content, bytes) else content.encode())
    done = tetherline("state", plan, log)
    assert_bad_input(done, "log.jsonl", says)
    assert len(done.stderr) < 2000


def test_a_missing_log_and_a_folder_are_refused(plan: Path, tmp_path: Path):
    """Also for the plan."""
    assert_bad_input(tetherline("state", plan, tmp_path / "nope.jsonl"), "nope.jsonl")
    assert_bad_input(tetherline("state", plan, tmp_path), tmp_path.name)
    assert_bad_input(tetherline("state", tmp_path / "nope.toml", tmp_path / "nope.jsonl"), "nope.toml")


def test_a_plan_with_errors_is_refused(plan: Path, log: Path):
    """With the plan's own problems."""
    plan.write_text(PLAN.replace("duration = 60", "duration = -60"), encoding="utf-8")
    assert_bad_input(tetherline("state", plan, log), "plan.toml", "-60")


def test_an_empty_log_is_that_of_a_sortie_to_come(plan: Path, tmp_path: Path):
    """The state is that of the plan, and a line on standard error says that nothing was logged."""
    log = tmp_path / "new.jsonl"
    log.touch()
    done = tetherline("state", plan, log, "--at", "0:00")
    assert done.returncode == 0 and "T010 Unstow pump" in done.stdout
    assert "the log holds no event yet" in done.stderr
