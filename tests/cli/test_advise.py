"""`tetherline advise` as it is typed."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest

from dashboard.cli import advise as command
from dashboard.core.deferral.advice_model import Advice
from dashboard.core.record.record import Record
from replay.recording import packaged_scenarios
from tests.command import tetherline

FOLDER = packaged_scenarios()["lantern-2"]
RUN = (str(FOLDER / "plan.toml"), str(FOLDER / "run-2031-03-02.jsonl"))


@pytest.fixture(scope="module", autouse=True)
def worked_out_once() -> Iterator[None]:
    """The same advice is worked out once in this file, however it is printed."""
    known: dict[object, object] = {}
    real = command.advise

    def advise_once(record: Record, **asked: object) -> object:
        wanted = (record.pet_min, tuple(asked.items()))
        if asked["basis"] != "expected" or wanted not in known:
            known[wanted] = real(record, **asked)
        return known[wanted]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(command, "advise", advise_once)
        yield


def test_it_says_what_to_give_up_and_by_when():
    """Half an hour behind at PET 4:09: choices with their cost, and the caution."""
    said = tetherline("advise", *RUN, "--at", "4:09")
    assert said.returncode == 0
    for words in (
        "Expect a cut", "decide by", "can wait", "wins", "priority-3 tasks", "chance in time", "Advisory only", "not certified",
    ):
        assert words.lower() in said.stdout.lower()


def test_as_json_it_is_the_advice_of_the_state():
    """The published model reads it, and the wanted confidence is reached."""
    said = tetherline("advise", *RUN, "--at", "4:09", "--json")
    advice = Advice.model_validate(json.loads(said.stdout))
    assert advice.needed
    assert all(choice.in_by_limit >= 0.9 for choice in advice.choices)


def test_no_more_goes_than_must_and_the_contingency_stays():
    """At PET 3:42, the arm stopped: two of priority 1 are enough, proven as drawn, and T240's contingency is left alone."""
    choices = Advice.model_validate(json.loads(tetherline("advise", *RUN, "--at", "3:42", "--json").stdout)).choices
    assert choices[0].value_lost["1"] <= 2
    assert choices[0].proven
    assert "with the wanted confidence" in choices[0].proof
    for choice in choices:
        assert not [t for t in (*choice.defer, *choice.trim, *choice.break_off) if t.startswith("C")]
        assert choice.if_not_decided.short_by_min > 0
        assert choice.decide_by


def test_plan_pace_is_deterministic():
    """No draws: the same text twice, and no probability."""
    first, second = (tetherline("advise", *RUN, "--at", "3:30", "--basis", "plan-pace", "--json") for _ in range(2))
    assert first.stdout == second.stdout
    assert json.loads(first.stdout)["in_by_limit"] is None


@pytest.mark.parametrize(
    ("more", "found"),
    [
        (["--keep", "T39"], "option --keep: expected the id of a task of the plan of record; found 'T39'"),
        (["--give-up", "T39"], "option --give-up: expected the id of a task of the plan of record; found 'T39'"),
        (["--keep", "T390", "--give-up", "T390"], "both"),
        (["--give-up", "T010"], "required"),
        (["--keep", "T300,T310"], "T300, T310"),
        (["--give-up", "C140"], "done"),
        (["--confidence", "1.5"], "1.5"),
        (["--confidence", "2"], "2"),
        (["--basis", "gut"], "'gut'"),
        (["--at", "noon"], "noon"),
    ],
)
def test_wrong_wishes_are_refused_in_words(more, found):
    """Exit code 2, what was expected and found, no traceback."""
    said = tetherline("advise", *RUN, "--at", "4:09", *more) if "--at" not in more else tetherline("advise", *RUN, *more)
    assert said.returncode == 2
    assert found in said.stderr
    assert "expected" in said.stderr
    assert "Traceback" not in said.stderr
