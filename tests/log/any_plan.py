"""Plans of every shape for property tests: all tables and keys, odd names and texts. They need not be sound, only readable."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from dashboard.core.plan.model import Plan

NAMES = st.sampled_from([
    "T010", "T,020", "a+b", "7", "007", "=1+1", "x;y/z", "\u00e9t\u00e9", "and", "yes", "1:50", "1e3", "T010+5", "-", "EV1&EV2",
])  # fmt: skip
TEXTS = st.sampled_from([
    "", "Swap, connect; check", 'Tray "swap"', "=1+1", "two\nlines", "1.0", "0:40", "\u00b5m \u2192 \u00b0C", "# no comment",
    "_x0041_", "'quoted'", "40 min", "TRUE",
])  # fmt: skip
NUMBERS = st.sampled_from([0.0, 0.1, 0.5, 1.0, 7.25, 40.0, 100.0 / 3.0, 359.0])
DURATIONS = st.one_of(
    NUMBERS, st.sampled_from([[20, 20, 20], [30, 40.5, 65], [0, 0, 0], [0.1, 0.2, 0.30000000000000004], [10, 15, 20]])
)
LISTS = st.lists(NAMES, max_size=3, unique=True)
WORKLOADS = st.sampled_from(["rest", "heavy", 300, 287.5])


def _entry(needed: dict[str, Any], may: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(needed, optional=may)


TASKS = _entry(
    {"lanes": st.lists(NAMES, min_size=1, max_size=3, unique=True), "duration": DURATIONS},
    {
        "title": TEXTS, "start": NUMBERS, "shortest": st.just(0), "after": LISTS, "together": NAMES,
        "priority": st.integers(1, 9),
        "follows": st.lists(st.one_of(NAMES, st.fixed_dictionaries({"task": NAMES, "lag": NUMBERS})), max_size=3),
        "value": NUMBERS, "required": st.booleans(), "get_ahead": st.booleans(), "closeout": NUMBERS, "can_move_to": LISTS,
        "worksite": NAMES, "workload": WORKLOADS, "needs": LISTS, "not_before": st.sampled_from([-5.5, 0, 100]),
        "activity": TEXTS.filter(bool), "leg": NAMES, "boxed": st.booleans(), "notes": TEXTS,
    },
)
RESERVES = NUMBERS.filter(lambda one: one < 4)
CONSUMABLES = _entry({"loaded": st.just(4.5)}, {"reserve": RESERVES, "base": NUMBERS, "per_watt": NUMBERS})
WORKSITES = _entry({"id": NAMES}, {"title": TEXTS, "return": NUMBERS, "return_workload": WORKLOADS, "leave_by": NUMBERS})


@st.composite
def any_plan(draw: st.DrawFn) -> Plan:
    """A plan whose fields are right. Lists name only tasks, lanes and windows that the plan has."""
    names = draw(st.lists(NAMES, min_size=1, max_size=4, unique=True))
    tables: dict[str, Any] = {
        "sortie": draw(_entry(
            {"id": NAMES, "start": st.sampled_from(["2031-04-12T09:10:00.5Z", "2031-102T09:10:00Z"]), "limit": st.just("7:00")},
            {"title": TEXTS, "reserve": NUMBERS, "confidence": st.sampled_from([0.5, 0.95]), "lead": NUMBERS},
        )),
        "lane": [{"id": name, "kind": "crew", "suit": "A"} for name in NAMES.elements],  # type: ignore[attr-defined]
        "window": [{"kind": name, "from": -7.5, "to": 20} for name in NAMES.elements],  # type: ignore[attr-defined]
        "task": [],
    }
    for name in names:
        tables["task"].append({"id": name, **draw(TASKS)})
    for key, entries in (
        ("suit", _entry({"id": st.just("A")}, dict.fromkeys(("oxygen", "co2", "battery", "water"), CONSUMABLES))),
        ("worksite", WORKSITES),
        ("route", _entry({"from": st.just("mast"), "to": NAMES, "duration": DURATIONS}, {"workload": WORKLOADS})),
        ("check", _entry({"id": NAMES, "every": st.just(30), "lanes": LISTS.filter(bool)}, {"title": TEXTS})),
    ):
        if draw(st.booleans()):
            tables[key] = [draw(entries)]
    if draw(st.booleans()):
        step = {"id": "C010", **draw(TASKS)}
        tables["contingency"] = [{"id": "leak", "trigger": draw(TEXTS), "hold": draw(LISTS), "task": [step]}, {"id": "empty"}]
    if draw(st.booleans()):
        options = {"out side": draw(LISTS), "7": []}
        tables["alternative"] = [{"id": "ending", "title": draw(TEXTS), "default": "7", "options": options}]
    return Plan.model_validate(tables)
