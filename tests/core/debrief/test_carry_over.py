"""What a sortie leaves, and how much of it."""

from __future__ import annotations

import pytest

from tests.core.debrief.made import PLAN, made
from tests.scenario import plan_of, task


def test_what_is_left_and_how_much_of_it():
    """Deferred: the whole; broken off: the estimate, else the rest; options not taken are no carry-over."""
    plan = plan_of(
        task("T010", "EV1", 0, 30, closeout=2) + task("T020", "EV1", 30, 30, after=["T010"])
        + task("T030", "EV2", 0, 60, closeout=2) + task("T050", "EV2", 60, 10) + task("T060", "EV2", None, 10)
        + task("T070", "EV1", 60, 10, closeout=1)
        + '[[alternative]]\nid = "x"\ndefault = "a"\noptions = { a = ["T050"], b = ["T060"] }\n'
    )
    facts = made(plan, """
        0:00 clock
        0:00 start T010
        0:00 start T030
        0:20 estimate T010 remaining=15
        0:25 break_off T010
        0:25 defer T020
        0:30 break_off T030
        0:30 start T070
        0:45 break_off T070
        0:50 end
    """, "0:50")
    left = {one.task: (one.because, one.remaining_min, one.remaining_from) for one in facts.carry_over}
    assert left == {
        "T010": ("broken off", 10, "estimate"),
        "T020": ("deferred", 30, "briefed length"),
        "T030": ("broken off", 30, "briefed length less work done"),
        "T050": ("not done", 10, "briefed length"),
        "T070": ("broken off", 10, "briefed length again"),
    }
    assert next(one for one in facts.carry_over if one.task == "T020").after_left == ["T010"]


def test_while_the_sortie_goes_on_only_what_was_given_up_is_left():
    """What may still be done is no carry-over."""
    facts = made(PLAN, "0:00 clock\n0:00 start T010\n0:10 defer T040", "0:20")
    assert facts.so_far
    assert [one.task for one in facts.carry_over] == ["T040"]


LEAK = (
    '[[contingency]]\nid = "leak"\nhold = ["T020"]\n[[contingency.task]]\nid = "C010"\nlanes = ["EV1"]\nduration = 5\n'
    '[[contingency]]\nid = "jam"\nhold = ["T010"]\n[[contingency.task]]\nid = "C020"\nlanes = ["EV1"]\nduration = 5\n'
)
ENDING = '[[alternative]]\nid = "x"\ndefault = "a"\noptions = { a = ["T050"], b = ["T060"] }\n'
PREPARED = task("T010", "EV1", 0, 10) + task("T020", "EV1", 10, 10) + task("T050", "EV2", 0, 10) + task("T060", "EV2", None, 10)


@pytest.mark.parametrize(
    ("log", "contingencies", "option"),
    [
        ("0:10 done T010\n0:11 end", ["leak", "jam"], "a"),
        ("0:05 insert jam\n0:06 start C020\n0:09 done C020\n0:10 done T010\n0:11 end", ["leak"], "a"),
        ("0:05 insert jam\n0:06 start C020\n0:09 done C020\n0:11 end", ["leak", "jam"], "a"),
        ("0:05 insert jam\n0:10 done T010\n0:11 end", ["leak"], "a"),
        ("0:02 choose x option=b\n0:10 done T010\n0:11 end", ["leak", "jam"], "b"),
        ("0:02 start T050\n0:10 done T010\n0:11 end", ["leak", "jam"], None),
    ],
    ids=["not used", "over, its hold done", "over, its hold left", "its own task left", "chosen", "begun"],
)
def test_what_was_prepared_goes_with_what_is_left(log, contingencies, option):
    """A contingency until it is used up, and an alternative with its option in force until one of its options is begun."""
    left = made(plan_of(PREPARED + LEAK + ENDING), f"0:00 clock\n0:00 start T010\n{log}", "0:12").left_open
    assert left.contingencies == contingencies
    assert left.alternatives == ({} if option is None else {"x": option})
