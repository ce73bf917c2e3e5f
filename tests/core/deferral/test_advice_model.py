"""Advice as the state shows it."""

from __future__ import annotations

import json

import pytest
from pydantic import ValidationError

from dashboard.core.deferral.advice_model import Choice
from dashboard.core.events.change import Change

CHANGE = Change(
    defer=("A",), trim={"B": 20.0}, extend={"C": 50.0}, break_off=("D",), move={"E": "EV2"}, choose={"ending": "short"},
    order=("B", "C"),
)
CHOICE = Choice(
    **CHANGE.model_dump(), end_pet_min=90.0, in_by_limit=0.94, decide_by_pet_min=70.0, value_lost={"3": 1.0}, why="because"
)


def test_a_choice_is_flat_in_json() -> None:
    """Its change and its figures stand side by side, by the names that every reader of the state relies on."""
    told = json.loads(CHOICE.model_dump_json())
    wanted = {
        "defer": ["A"], "trim": {"B": 20.0}, "break_off": ["D"], "move": {"E": "EV2"}, "end_pet_min": 90.0,
        "in_by_limit": 0.94, "decide_by_pet_min": 70.0, "value_lost": {"3": 1.0}, "why": "because",
    }
    assert {name: told.get(name) for name in wanted} == wanted


def test_a_choice_gives_its_change_back() -> None:
    """Every part of it, also after a way through JSON, and none of the figures."""
    assert CHOICE.change() == CHANGE
    assert type(CHOICE.change()) is Change
    assert Choice.model_validate_json(CHOICE.model_dump_json()).change() == CHANGE


def test_a_choice_stays_as_it_is() -> None:
    """It cannot be altered."""
    with pytest.raises(ValidationError, match="frozen"):
        CHOICE.why = "no"  # type: ignore[misc]
