"""The first choice stays while it is as good."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.previous_choice import refigured, steadied
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.record.fold import reconcile
from tests.scenario import at, log_of, plan_of, task

LANES = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 100\n'
LANES += "".join(f'[[lane]]\nid = "{n}"\nkind = "crew"\n' for n in ("EV1", "EV2"))
WORK = LANES + (
    task("A", "EV1", 0, [30, 40, 50], priority=1) + task("B", "EV1", 40, [25, 30, 35], priority=2)
    + task("C", "EV1", 70, [25, 30, 35], priority=2) + task("HOME", "EV1 EV2", 110, [10, 10, 10], required=True)
)


def record_at(pet, log="0:00 clock"):
    return reconcile(plan_of(WORK), log_of(log), parse_instant(at(pet)))


def advice_at(record):
    return advice_of(advise(record, draws=500))


def chosen(advice, *names):
    return next(choice for choice in advice.choices if set(choice.defer) == set(names))


def test_a_choice_of_equal_cost_stays_first():
    """B and C cost the same. Whichever was first before is first again, and the other comes after it."""
    record = record_at(0)
    new = advice_at(record)
    for name in ("B", "C"):
        (before,) = refigured(record, [chosen(new, name)], 0.9, 500)
        kept = steadied(before, new)
        assert kept.choices[0].defer == (name,)
        assert len(kept.choices) == len(new.choices)
        assert sorted(tuple(c.defer) for c in kept.choices) == sorted(tuple(c.defer) for c in new.choices)


def test_a_choice_that_costs_more_gives_way():
    """The same task in a higher class: the cheaper new choice comes first."""
    record = record_at(0)
    new = advice_at(record)
    dearer = chosen(new, "B").model_copy(update={"value_lost": {"1": 1.0}})
    assert steadied(dearer, new) == new


def test_a_choice_that_no_longer_reaches_it_gives_way():
    """With A so late that one task is not enough, deferring B alone is no choice any more."""
    first = chosen(advice_at(record_at(0)), "B")
    late = record_at("1:05", "0:00 clock\n0:00 start A\n1:05 estimate A remaining=20")
    assert refigured(late, [first], 0.9, 500) == []


def test_a_choice_that_is_no_longer_open_gives_way():
    """B has begun: it can no longer be deferred."""
    first = chosen(advice_at(record_at(0)), "B")
    begun = record_at("0:45", "0:00 clock\n0:00 start A\n0:41 done A\n0:41 start B")
    assert refigured(begun, [first], 0.9, 500) == []


def test_figured_anew_a_choice_no_longer_says_what_was_proven_before():
    """At the same instant: the same figures; that nothing costs less is no longer said."""
    record = record_at(0)
    (first, *_) = advice_at(record).choices
    (anew,) = refigured(record, [first], 0.9, 500)
    assert (anew.end_pet_min, anew.in_by_limit, anew.value_lost) == (first.end_pet_min, first.in_by_limit, first.value_lost)
    assert first.proven and "costs less" in first.why and first.differs == "what costs least"
    assert not anew.proven and "costs less" not in anew.why and anew.differs == "the least cost found"


def test_a_choice_that_misses_by_a_little_still_holds_where_that_is_given():
    """Its figures are those of now. By no more than was given."""
    record = record_at(0)
    (first, *_) = advice_at(record).choices
    wanted = first.in_by_limit + 0.03
    assert refigured(record, [first], wanted, 500) == refigured(record, [first], wanted, 500, gives=0.02) == []
    assert [one.in_by_limit for one in refigured(record, [first], wanted, 500, gives=0.05)] == [first.in_by_limit]


def test_the_earliest_way_in_is_figured_anew_though_it_misses_the_wanted_confidence():
    """It is what is left when nothing reaches it."""
    late = record_at("1:40", "0:00 clock\n0:00 start A\n1:30 done A")
    (earliest,) = advice_at(late).choices
    assert not earliest.reached
    later = record_at("1:42", "0:00 clock\n0:00 start A\n1:30 done A")
    (anew,) = refigured(later, [earliest], 0.9, 500)
    assert (anew.reached, anew.why) == (False, earliest.why)
    assert anew.end_pet_min == earliest.end_pet_min + 2


def test_with_nothing_before_the_new_advice_stands():
    """No earlier choice, no change."""
    new = advice_at(record_at(0))
    assert steadied(None, new) is new


def test_while_the_wins_of_the_same_choice_are_worked_out_those_of_before_are_shown():
    """Else wins and decide-by times would go and come back with every event. What is worked out takes their place."""
    record = record_at(0)
    new = advice_at(record)
    (before,) = refigured(record, new.choices[:1], 0.9, 500, wins_anew=True)
    bare = [item.model_copy(update={"wins_min": None, "decide_by_pet_min": 99.0}) for item in new.choices[0].items]
    early = new.model_copy(update={"choices": [new.choices[0].model_copy(update={"items": bare})]})
    assert before.items == new.choices[0].items != bare
    assert steadied(before, early).choices == new.choices[:1]
    assert steadied(before.model_copy(update={"items": bare}), new) == new
    unreached = [one.model_copy(update={"reached": False}) for one in (before, early.choices[0])]
    assert steadied(unreached[0], early.model_copy(update={"choices": unreached[1:]})).choices[0].items == before.items


def test_figured_anew_a_part_wins_what_it_wins_now():
    """A takes 5 min more than its longest length, so B begins later. Its wins follow only where they are worked out again."""
    (first, *_) = advice_at(record_at("0:05", "0:00 clock\n0:00 start A")).choices
    late = record_at("0:25", "0:00 clock\n0:00 start A\n0:25 estimate A remaining=30")
    (kept,) = refigured(late, [first], 0.2, 500)
    (anew,) = refigured(late, [first], 0.2, 500, wins_anew=True)
    (was,), (same,), (now,) = first.items, kept.items, anew.items
    assert (same.wins_min, same.task) == (was.wins_min, was.task)
    assert now.decide_by_pet_min == anew.decide_by_pet_min == kept.decide_by_pet_min
    assert now.wins_min != was.wins_min
