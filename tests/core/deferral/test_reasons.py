"""The sentences about a choice, and why nothing reaches the goal."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import Wish
from dashboard.core.deferral.figures import figures_of
from dashboard.core.deferral.reasons import why_of
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.cases import HOME, LANES, WORK, advised
from tests.scenario import at, log_of, plan_of, task


def test_what_a_choice_wins_is_said_in_hours_and_minutes():
    """77 min are 1 h 17 min, as everywhere else."""
    advice = advised(task("A", "EV1", 0, 40) + task("B", "EV1", 40, 77) + HOME)
    assert [proposal.why.partition(": ")[2].partition(" at plan pace")[0] for proposal in advice.proposals] == [
        "in 1 h 17 min earlier", "in 40 min earlier",
    ]


def test_several_things_are_listed_with_one_and():
    """In sentences and in what sets choices apart."""
    tables = "".join(task(n, "EV1", 10 * i, 10, priority=3) for i, n in enumerate("PQRS"))
    tables += task("A", "EV1", 40, 70, priority=1) + HOME
    first = advised(tables, wish=Wish(give_up=frozenset("PQRS"))).proposals[0]
    assert first.why.startswith("Defers P, Q, R and S: in ")


def test_what_saves_a_suit_and_no_time_says_so():
    """EV1 sets the end and EV2 runs out of water: what goes wins minutes of that. It names who wears the suit."""
    suit = '[[suit]]\nid = "B"\n[suit.water]\nloaded = 1.0\nreserve = 0.1\nbase = 0\nper_watt = 0.002\n'
    tables = task("A", "EV1", 0, 80, required=True) + task("D", "EV2", 0, 40, workload=500)
    tables += task("E", "EV2", 40, 30, workload=300) + suit
    first = advised(tables).proposals[0]
    record = reconcile(plan_of(LANES + tables), log_of("0:00 clock"), parse_instant(at("0:00")))
    before = figures_of(record, project(record), Change(), confidence=0.9, draws=0)
    saved = first.figures.margins_min["B"] - before.margins_min["B"]
    assert first.figures.end_pet_min == before.end_pet_min
    assert f": saves {saved:.0f} min of EV2 water, and nothing that costs less" in first.why


@pytest.mark.parametrize(("short_of", "wins"), [
    ("the limit", "in no earlier at plan pace, but the chance in time rises from 69 % to 90 %"),
    ("suit B water", "saves 5 min of EV2 water"),
])  # fmt: skip
def test_what_wins_chance_and_no_time_says_so(short_of: str, wins: str):
    """Where the limit is what runs are past, the chance counts, and not what a suit saves that has enough."""
    record = reconcile(plan_of(LANES + WORK), log_of("0:00 clock"), parse_instant(at("0:00")))
    now = replace(
        figures_of(record, project(record), Change(), confidence=0.9, draws=0),
        in_by_limit=0.69, short_of=short_of, margins_min={"B": 200.0}, limiting={"B": "water"},
    )
    assert why_of(record, replace(now, in_by_limit=0.9, margins_min={"B": 205.0}), now).endswith(f": {wins}.")


def test_when_nothing_reaches_it_the_earliest_way_in_is_given():
    """Everything required: the advice says so in words."""
    advice = advised(task("A", "EV1", 0, 120, required=True) + HOME)
    assert advice.needed
    assert not advice.proposals[0].reached
    assert "earliest way in" in advice.proposals[0].why


def test_a_suit_below_its_reserve_is_why_nothing_reaches_it():
    """What may be given up is not the matter: the reserve went at 0:12, and both suits are named when both are below."""
    low = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 0.4\nreserve = 0.3\nbase = 0.5\nper_watt = 0\n'
    assert "below the reserve" not in advised(low + WORK, "0:00 clock\n0:00 start A", "0:11").obstacle
    late = advised(low + WORK, "0:00 clock\n0:00 start A", "0:13")
    assert late.obstacle.startswith("Suit A water is below the reserve already.")
    both = advised(low + low.replace('"A"', '"B"') + WORK, "0:00 clock\n0:00 start A", "0:13")
    assert both.obstacle.startswith("Suit A water and suit B water are below the reserve already.")


def test_no_text_of_the_advice_has_a_part_of_a_minute():
    """Why, proof and decide-by of every choice, by both bases, where a trim takes a part of a minute."""
    cut = (
        task("A", "EV1", 0, 40.25, priority=1) + task("B", "EV1", 41, 40.5, priority=2, shortest=20.25)
        + task("C", "EV1", 82, 25.4, priority=1) + HOME
    )
    told = [
        " ".join([choice.why, choice.proof, choice.differs, choice.decide_by])
        for basis in ("plan-pace", "expected") for choice in advice_of(advised(cut, basis=basis)).choices
    ]
    assert "Cuts B to 24 min" in told[0]
    assert [said for said in told if re.search(r"\d\.\d+ min", said)] == []


@pytest.mark.parametrize(
    ("tables", "wish", "words"),
    [
        (task("A", "EV1", 0, 120, required=True) + HOME, Wish(), "Nothing that remains may be given up"),
        (WORK, Wish(keep=frozenset("ABC")), "with what is to be kept"),
        (task("A", "EV1", 0, 95, required=True) + task("C", "EV1", 95, 5) + HOME, Wish(),
         "Nothing that may be given up keeps the limit and every suit's reserve at plan pace."),
    ],
)
def test_what_stands_in_the_way_is_said(tables, wish, words):
    """The obstacle in words, with the earliest way in."""
    advice = advised(tables, wish=wish)
    assert words in advice.obstacle
    assert not advice.proposals[0].reached


def test_a_limit_already_past_is_said():
    """At PET 1:50 the limit of 100 min is past."""
    assert "already past" in advised(WORK, "0:00 clock\n0:00 start A", "1:50").obstacle
