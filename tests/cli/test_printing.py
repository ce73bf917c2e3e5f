"""How every command prints: whatever the terminal, no word is lost and nothing fails."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from dashboard.cli.printing import listed, print_json, progress, short_line, warn
from dashboard.core.base.problems import Problem
from tests.command import (
    LOG,
    PLAN,
    tetherline,
    written,
)
from tests.waiting import DEADLINE_S


def test_a_reader_that_goes_away_is_no_failure(plan: Path, log: Path):
    """As in `tetherline state ... | head -1`."""
    command = [sys.executable, "-m", "dashboard.cli", "state", str(plan), str(log), "--json"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    process.wait(DEADLINE_S)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_a_terminal_that_is_not_utf8_gets_the_text_all_the_same(plan: Path, log: Path, encoding: str):
    """A character that cannot be shown is replaced, nothing fails."""
    plan.write_text(PLAN.replace("Carry pump", "Carry pump → 泵"), encoding="utf-8")
    done = tetherline("state", plan, log, encoding=encoding)
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


def test_very_many_unread_lines_are_counted_and_the_first_shown(sortie: Path):
    """The figures are not buried."""
    noise = "not an event\n" * 500
    done = tetherline("state", sortie / "plan.toml", written(sortie, "log.jsonl", LOG + noise))
    assert "Could not be understood (500)" in done.stdout and "and 480 more lines" in done.stdout
    assert len(done.stdout.splitlines()) < 80


def test_what_is_listed_is_counted_in_its_heading():
    """Also when only the first lines are shown; nothing is printed for nothing."""
    assert [text.plain for text in listed("Alerts", ["one", "two"])] == ["", "Alerts (2):", "  one", "  two"]
    assert listed("Alerts", ["one"], 500)[1].plain == "Alerts (500):"
    assert listed("Alerts", []) == []


def test_a_line_of_the_log_is_shown_on_one_line():
    """Breaks and runs of blanks become one blank; what is long is cut at 100 characters, and says so."""
    assert short_line("a\n  b\t c") == "a b c"
    assert short_line("x" * 100) == "x" * 100
    assert short_line("x" * 101) == "x" * 97 + "..."


def test_json_keeps_every_character(capsys: pytest.CaptureFixture[str]):
    """Nothing is written as an escape, and what JSON has no form for is written as text."""
    print_json({"title": "Carry → pump", "at": Path("plan.toml")})
    assert json.loads(capsys.readouterr().out) == {"title": "Carry → pump", "at": "plan.toml"}


def test_a_problem_that_stops_nothing_is_a_warning(capsys: pytest.CaptureFixture[str]):
    """On standard error, in one line; none is printed for none."""
    warn(None)
    warn(Problem("--at", "a PET", "'x'", "Write 1:30."))
    assert capsys.readouterr() == ("", "warning: --at: expected a PET; found 'x'. Write 1:30.\n")


def test_progress_is_shown_to_nobody_in_a_pipe(capsys: pytest.CaptureFixture[str]):
    """What reads standard error gets no bar."""
    with progress("Scoring", 2) as step:
        step()
        step()
    assert capsys.readouterr() == ("", "")
