"""`tetherline state`: how the sortie stands, in words and as JSON."""

from __future__ import annotations

import json
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.times import parse_instant
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState
from dashboard.log.logfile import read_log
from dashboard.log.planfile import load_plan
from tests.command import LATE_PLAN, LOG, PLAN, assert_bad_input, tetherline, tetherline_process


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "run-1.jsonl"
    path.write_text(LOG, encoding="utf-8")
    return path


def test_it_says_how_each_lane_stands(plan: Path, log: Path):
    """At the last event when no time is given."""
    done = tetherline("state", plan, log)
    assert (done.returncode, done.stderr) == (0, "")
    assert "PET 0:37" in done.stdout
    assert "in work: T020 Carry pump" in done.stdout
    assert "7 min behind" in done.stdout
    assert "limit" in done.stdout


def test_the_caution_stands_under_it(plan: Path, log: Path):
    """Word for word, at the end."""
    words = " ".join(tetherline("state", plan, log).stdout.split())
    assert words.endswith(CAUTION)


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


@pytest.mark.parametrize(
    "at", ["0:20", "20", "2031-04-12T09:30:00Z", "2031-102T09:30:00Z", "2031-04-12T11:30:00+02:00"]
)
def test_a_time_is_a_pet_or_an_instant(plan: Path, log: Path, at: str):
    """All of these are PET 0:20."""
    done = tetherline("state", plan, log, "--at", at)
    assert "PET 0:20" in done.stdout
    assert "in work: T010 Unstow pump" in done.stdout


def test_before_pet_zero_is_a_time_too(plan: Path, log: Path):
    """A negative PET; nothing has begun."""
    done = tetherline("state", plan, log, "--at", "-0:30")
    assert done.returncode == 0
    assert "PET -0:30" in done.stdout


@pytest.mark.parametrize(
    ("at", "says"),
    [
        ("nonsense", "a PET or an instant"),
        ("", "a PET or an instant"),
        ("2:75", "a PET or an instant"),
        ("2031-04-12T09:30:00", "zone"),
        ("2031-04-12 09:30", "zone"),
        ("99:00", "PET 48:00"),
        ("2032-04-12T09:30:00Z", "PET 48:00"),
        ("1e300", "a PET or an instant"),
        ("9" * 400, ""),
    ],
)
def test_a_time_that_is_none_or_outside_the_sortie_is_refused(plan: Path, log: Path, at: str, says: str):
    """With what would be one."""
    assert_bad_input(tetherline("state", plan, log, f"--at={at}"), "option --at", says)


def test_json_is_the_state_itself(plan: Path, log: Path):
    """It validates against the published model and equals what `follow` gives."""
    done = tetherline("state", plan, log, "--json", "--at", "0:36")
    read = load_plan(plan)
    expected = follow(read, read_log(log, read).events, parse_instant("2031-04-12T09:46:00Z"), mode="replay")
    assert SortieState.model_validate_json(done.stdout) == expected


def test_json_has_exactly_the_fields_of_the_published_schema(plan: Path, log: Path):
    """`tetherline schema` describes what `--json` prints."""
    schema = json.loads(tetherline("schema").stdout)
    state = json.loads(tetherline("state", plan, log, "--json").stdout)
    assert set(state) == set(schema["properties"]) == set(schema["required"])


def test_what_does_not_fit_and_what_cannot_be_understood_is_listed(plan: Path, log: Path):
    """One bad line never blinds the room."""
    with log.open("a", encoding="utf-8") as file:
        file.write(
            '{"id": "e6", "at": "2031-04-12T09:50:00Z", "kind": "done", "task": "T040"}\nnot an event\n'
        )
        file.write('{"id": "e7", "at": "2031-04-12T09:51:00Z", "kind": "start", "task": "T999"}\n')
    done = tetherline("state", plan, log)
    assert done.returncode == 0
    assert "Does not fit" in done.stdout and "e6: expected" in done.stdout
    assert "Could not be understood (2)" in done.stdout
    assert "not an event" in done.stdout and "T999" in done.stdout


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


def test_decisions_are_listed_with_the_events_that_came_with_them(plan: Path, log: Path):
    """The event of the same instant that the decision names; one that was withdrawn is not listed."""
    at = '"at": "2031-04-12T09:48:00Z"'
    chosen = '{"break_off": ["T030"]}'
    lines = [
        f'{{"id": "d1", {at}, "kind": "decision", "text": "Late", "defer": ["T040"], "chosen": {chosen}, "by": "lead"}}',
        f'{{"id": "d2", {at}, "kind": "break_off", "task": "T030"}}',
        f'{{"id": "d3", {at}, "kind": "decision", "text": "Slip"}}', f'{{"id": "d4", {at}, "kind": "withdraw", "event": "d3"}}',
    ]
    log.write_text(LOG + "\n".join(lines) + "\n", encoding="utf-8")
    said = " ".join(tetherline("state", plan, log).stdout.split())
    assert "Decisions (1): PET 0:38: decided: Late (defer T040 Swap tray); with it: break off T030 Prepare tray, by lead" in said


def test_a_missing_log_and_a_folder_are_refused(plan: Path, tmp_path: Path):
    """Also for the plan."""
    assert_bad_input(tetherline("state", plan, tmp_path / "nope.jsonl"), "nope.jsonl")
    assert_bad_input(tetherline("state", plan, tmp_path), tmp_path.name)
    assert_bad_input(tetherline("state", tmp_path / "nope.toml", tmp_path / "nope.jsonl"), "nope.toml")


def test_a_plan_with_errors_is_refused(plan: Path, log: Path):
    """With the plan's own problems."""
    plan.write_text(PLAN.replace("duration = 60", "duration = -60"), encoding="utf-8")
    assert_bad_input(tetherline("state", plan, log), "plan.toml", "-60")


def test_a_reader_that_goes_away_is_no_failure(plan: Path, log: Path):
    """As in `tetherline state ... | head -1`."""
    command = [sys.executable, "-m", "dashboard.cli", "state", str(plan), str(log), "--json"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    process.wait(30)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_a_terminal_that_is_not_utf8_gets_the_text_all_the_same(plan: Path, log: Path, encoding: str):
    """A character that cannot be shown is replaced, nothing fails."""
    plan.write_text(PLAN.replace("Carry pump", "Carry pump → 泵"), encoding="utf-8")
    done = tetherline_process("state", plan, log, environment={"PYTHONIOENCODING": encoding})
    assert (done.returncode, done.stderr) == (0, "")
    assert "Carry pump" in done.stdout


@pytest.mark.parametrize("width", [20, 40])
def test_a_narrow_terminal_loses_no_words(plan: Path, log: Path, width: int):
    """Text is folded, not cut: every character is there."""
    narrow = tetherline("state", plan, log, environment={"COLUMNS": str(width)}).stdout
    wide = tetherline("state", plan, log, environment={"COLUMNS": "300"}).stdout
    assert max(len(line) for line in narrow.splitlines()) <= width
    assert sorted("".join(narrow.split())) == sorted("".join(wide.split()))


def test_titles_are_printed_as_they_are(plan: Path, log: Path):
    """No mark-up language is read into a plan's texts."""
    plan.write_text(PLAN.replace("Carry pump", "Carry [bold]pump[/bold] :smile:"), encoding="utf-8")
    printed = tetherline("state", plan, log, environment={"COLUMNS": "300"}).stdout
    assert "Carry [bold]pump[/bold] :smile:" in printed


def test_an_empty_log_is_that_of_a_sortie_to_come(plan: Path, tmp_path: Path):
    """The state is that of the plan, and a line on standard error says that nothing was logged."""
    log = tmp_path / "new.jsonl"
    log.touch()
    done = tetherline("state", plan, log, "--at", "0:00")
    assert done.returncode == 0 and "T010 Unstow pump" in done.stdout
    assert "the log holds no event yet" in done.stderr


def test_a_sortie_that_is_over_is_told_by_when_the_crew_was_in(plan: Path, log: Path):
    """The margin is that of the crew; the later closing stands beside it, and the JSON agrees with itself."""
    came_in = '{"id": "e%d", "at": "2031-04-12T%sZ", "kind": "%s"%s}\n'
    with log.open("a") as file:
        file.write(came_in % (6, "10:20:00", "done", ', "task": "T020"'))
        file.write(came_in % (7, "10:30:24", "done", ', "task": "T030"') + came_in % (8, "13:10:00", "end", ""))
    said = tetherline("state", plan, log).stdout
    assert "Crew in at PET 1:20, 5 h 09 min in hand; sortie closed at PET 4:00." in said
    assert re.search(r"^EV2 .* 1:20 *$", said, re.MULTILINE)
    state = SortieState.model_validate_json(tetherline("state", plan, log, "--json").stdout)
    assert (state.end.actual_pet_min, state.end.closed_pet_min) == (pytest.approx(80.4), 240)
    assert state.end.margin_min == state.limit.pet_min - state.end.actual_pet_min
