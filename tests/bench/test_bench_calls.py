"""The rooms of the bench of calls do what they are said to do."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import plus_minutes
from dashboard.core.events.kinds import parse_event
from dashboard.core.record.fold import reconcile
from tests.bench.bench_calls import Answer, WaitsForTheLast
from tests.bench.sorties import Sortie, Work, event_of

WORKS = tuple(
    Work(name, ("EV1", "EV2"), (), 2, name == "IN", 25.0, 30.0, 40.0) for name in ("OUT", "A", "B", "IN")
)


@pytest.mark.parametrize(("limit", "pet_min", "answer"), [
    (100.0, 5.0, Answer((), False)),
    (100.0, 50.0, Answer(("B",), True)),
    (200.0, 50.0, Answer((), False)),
])
def test_the_room_that_waits_for_the_last_task_is_asked_when_nothing_can_go_later(
    limit: float, pet_min: float, answer: Answer
) -> None:
    """Four tasks of half an hour, lead 20 min. B is the last that may go: it goes at PET 50, unless the limit is far off."""
    plan = Sortie(WORKS, limit, {}).plan()
    log = [parse_event(event_of(0, 0.0, "clock")), parse_event(event_of(1, 0.0, "start", task="OUT"))]
    if pet_min > 30:
        log += [parse_event(event_of(2, 30.0, "done", task="OUT")), parse_event(event_of(3, 30.0, "start", task="A"))]
    assert WaitsForTheLast()(reconcile(plan, log, plus_minutes(plan.sortie.start, pet_min))) == answer
