"""Whether an event names only what is known."""

from __future__ import annotations

import pytest

from dashboard.core.events.names import KnownNames, of_another_plan
from tests.core.events.examples import example
from tests.core.sorties import PLAN
from tests.scenario import log_of


@pytest.mark.parametrize(
    ("kind", "fields", "why"),
    [
        ("start", {"task": "AA"}, "expected the name of a known task; found 'AA'. Did you mean 'A'?"),
        ("start", {"task": "A", "lanes": ["EV3"]}, "expected the name of a known lane; found 'EV3'"),
        ("reading", {"suit": "Z"}, "expected the name of a known suit; found 'Z'"),
        ("insert", {"contingency": "lek"}, "expected the name of a known contingency; found 'lek'. Did you mean 'leak'?"),
        ("check", {"check": "suit-rea"}, "expected the name of a known check; found 'suit-rea'"),
        ("choose", {"alternative": "end"}, "expected the name of a known alternative; found 'end'"),
        ("choose", {"option": "lon"}, "expected an option of 'ending'; found 'lon'. Did you mean 'long'?"),
        ("decision", {"trim": {"T": 3}}, "expected the name of a known task; found 'T'"),
        ("note", {"sortie": "other"}, "expected an event of sortie 't'; found one of 'other'"),
    ],
)
def test_the_first_unknown_name_is_said_with_the_nearest(kind: str, fields: dict[str, object], why: str) -> None:
    """By the sort of thing that it should be the name of."""
    assert (KnownNames.of(PLAN).unknown(example(kind, **fields)) or "").startswith(why)


def test_a_name_of_any_length_leaves_the_reason_short() -> None:
    """The names of options have no length of their own."""
    why = KnownNames.of(PLAN).unknown(example("choose", option="x" * 20_000))
    assert why is not None and "an option of 'ending'; found 'xxx" in why and len(why) < 300


def test_an_added_task_is_known_by_its_name() -> None:
    """Wherever in the log it stands."""
    start = example("start", task="X")
    assert KnownNames.of(PLAN).unknown(start)
    assert KnownNames.of(PLAN, [start, example("add")]).unknown(start) is None


@pytest.mark.parametrize(
    ("log", "found"),
    [
        ("0:00 start T1\n0:01 start T2\n0:02 start A", "one that names 3 tasks, 2 of which are not in the plan (T1, T2)"),
        ("0:00 start T1\n0:01 start A", None),
        ("0:00 note text=T1", None),
    ],
)
def test_a_log_of_another_plan_is_told_by_its_tasks(log: str, found: str | None) -> None:
    """When most of the tasks that it names are unknown."""
    assert of_another_plan(PLAN, log_of(log)) == found
