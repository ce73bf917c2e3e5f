"""What the first page of a debrief needs, from small sorties."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.in_short import typed_afterwards
from dashboard.core.debrief.look_back import debrief
from tests.core.debrief.made import PLAN, made
from tests.scenario import at, log_of, plan_of, task

SHARED = plan_of(task("T010", "EV1 EV2", 0, 30) + task("T020", "EV1", 30, 20) + task("T030", "EV2", 30, 20))


def received(log: str, pet: str):
    """The events, all received at one time."""
    return [event.model_copy(update={"received": parse_instant(at(pet))}) for event in log_of(log)]


def test_the_largest_causes_come_first_and_a_shared_one_counts_once():
    """The joint task that ran over names both lanes; what cost under two minutes is left out."""
    log = "0:00 clock\n0:00 start T010\n0:50 done T010\n0:50 start T020\n0:50 start T030\n1:11 done T020\n1:20 done T030"
    causes = made(SHARED, log, "1:20").causes
    assert [(one.line.task, one.line.kind, one.line.minutes, one.lanes) for one in causes] == [
        ("T010", "overrun", 20, ["EV1", "EV2"]), ("T030", "overrun", 10, ["EV2"]),
    ]  # fmt: skip


def test_a_contingency_is_named_with_its_time_and_the_minutes_worked_on_it():
    """Only one that was inserted."""
    plan = plan_of(
        task("T010", "EV1", 0, 30) + '[[contingency]]\nid = "leak"\ntrigger = "Leak seen"\nhold = []\n'
        '[[contingency.task]]\nid = "C010"\ntitle = "Wipe"\nlanes = ["EV1"]\nduration = 10\n'
    )
    assert made(plan, "0:00 clock\n0:00 start T010", "0:20").contingencies == []
    found = made(plan, "0:00 clock\n0:05 insert leak\n0:05 start C010\n0:19 done C010", "0:20").contingencies
    assert [(one.contingency, one.inserted_pet_min, one.worked_min) for one in found] == [("leak", 5, {"EV1": 14})]


def test_remarks_stand_beside_the_task_that_they_name():
    """A remark on an event of the task, and a note with its id as a word of its own."""
    log = log_of("0:00 clock\n0:00 start T010\n0:10 note text=x\n0:12 note text=x\n0:30 done T010")
    texts = {2: {"text": "T010: bolt 3 is stiff"}, 3: {"text": "see T0101"}, 4: {"note": "all good"}}
    given = [event.model_copy(update=texts.get(place, {})) for place, event in enumerate(log)]
    rows = debrief(PLAN, given, parse_instant(at("0:40")), draws=0).lanes["EV1"].tasks
    assert {row.task: row.remarks for row in rows if row.remarks} == {"T010": ["T010: bolt 3 is stiff", "all good"]}


def test_a_log_typed_afterwards_is_known_as_such():
    """Every event received after the last one happened; its decisions show what had happened, not an empty room."""
    log = "0:00 clock\n0:00 start T010\n0:30 done T010\n0:40 defer T040"
    assert typed_afterwards(received(log, "3:00"))
    assert not typed_afterwards(received(log, "0:39"))
    assert not typed_afterwards(log_of(log)) and not typed_afterwards([])
    facts = debrief(PLAN, received(log, "3:00"), parse_instant(at("3:00")), draws=0)
    live = debrief(PLAN, log_of(log), parse_instant(at("3:00")), draws=0)
    assert facts.typed_afterwards and facts.decisions[0].end_pet_min == live.decisions[0].end_pet_min


def test_a_wait_for_a_partner_on_its_way_says_so():
    """EV1 waits at the airlock while EV2 comes back by a leg."""
    plan = plan_of(
        '[[worksite]]\nid = "mast"\nreturn = 10\n[[worksite]]\nid = "lock"\nreturn = 0\n'
        + task("T010", "EV1", 0, 20, worksite="lock") + task("T020", "EV2", 0, 20, worksite="mast")
        + task("T025", "EV2", 20, 10, leg="lock") + task("T030", "EV1 EV2", 30, 10, worksite="lock", required=True)
    )  # fmt: skip
    log = """
        0:00 clock
        0:00 start T010
        0:00 start T020
        0:20 done T010
        0:35 done T020
        0:35 start T025
        0:50 done T025
        0:50 start T030
    """
    waits = [line for line in made(plan, log, "0:55").lanes["EV1"].ledger if line.kind == "wait"]
    assert [(line.waited_for, line.name, line.minutes) for line in waits] == [("arrival", "EV2", 20)]
