"""A plan as it is briefed, drawn as a lane sheet."""

from __future__ import annotations

from dashboard.core.state.follow import follow
from dashboard.figures.as_briefed import as_briefed
from dashboard.figures.lane_sheet import sheet_payload
from tests.scenario import plan_of, task

PLAN = plan_of(task("T010", "EV1", 0, [20, 30, 50]) + task("T020", "EV1", 70, 20) + task("T030", "EV2", None, 20, get_ahead=True))


def test_every_block_stands_where_it_is_briefed() -> None:
    """Also behind a briefed gap, which the plan pace would close; nothing drifts, nothing is spread, no lane is ahead."""
    state = follow(PLAN, [], PLAN.sortie.start)
    paced, drawn = sheet_payload(PLAN, state), sheet_payload(PLAN, as_briefed(state))
    assert [label["box"][2:] for label in paced["labels"]] == [[0, 30], [30, 50]]
    assert [label["box"][2:] for label in drawn["labels"]] == [[0, 30], [70, 90]]
    assert drawn["traces"]["drift"] == {"x": [], "y": []} and drawn["traces"]["spread"]["x"] == []
    assert any("brief" in head["text"] for head in paced["columns"])
    assert not any("brief" in head["text"] for head in drawn["columns"])
