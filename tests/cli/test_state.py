"""`tetherline state`: how the sortie stands, in words and as JSON."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState
from dashboard.core.state.with_call import with_call
from dashboard.log.logfile import read_log
from dashboard.log.planfile import load_plan
from tests.command import (
    LOG,
    tetherline,
)


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


def test_the_way_back_and_the_basis_of_the_suits_are_printed(plan: Path, log: Path):
    """For each crew lane the turn-back time and what sets it; suit margins with the end that they are against."""
    said = " ".join(tetherline("state", plan, log, "--at", "0:36").stdout.split())
    assert "Way back (2): EV1: place not known, turn back by PET " in said
    assert "at the expected end, at plan pace " in said


def test_json_is_the_state_itself(plan: Path, log: Path):
    """It validates against the published model, and equals what `follow` gives, with the call."""
    done = tetherline("state", plan, log, "--json", "--at", "0:36")
    read = load_plan(plan)
    events, now = read_log(log, read).events, parse_instant("2031-04-12T09:46:00Z")
    expected = with_call(follow(read, events, now, mode="replay"), reconcile(read, events, now))
    assert expected.advice.call is not None
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


def test_a_sortie_that_is_over_is_told_by_when_the_crew_was_in(plan: Path, log: Path):
    """The margin is that of the crew; the later closing stands beside it, and the JSON agrees with itself."""
    came_in = '{"id": "e%d", "at": "2031-04-12T%sZ", "kind": "%s"%s}\n'
    with log.open("a") as file:
        file.write(came_in % (6, "10:20:00", "done", ', "task": "T020"'))
        file.write(came_in % (7, "10:30:24", "done", ', "task": "T030"') + came_in % (8, "13:10:00", "end", ""))
    said = tetherline("state", plan, log).stdout
    assert "Inside at PET 1:20, 5 h before the limit PET 6:20." in said
    assert re.search(r"^EV2 .* 1:20 *$", said, re.MULTILINE)
    state = SortieState.model_validate_json(tetherline("state", plan, log, "--json").stdout)
    assert (state.end.actual_pet_min, state.end.closed_pet_min) == (pytest.approx(80.4), 240)
    assert state.end.margin_min == state.limit.pet_min - state.end.actual_pet_min
