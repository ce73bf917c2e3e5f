"""What moves later so that nothing overlaps a row of the plan page."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.pure.conftest import Run

NEW = {"key": "n", "id": "N", "lanes": "EV1", "start": "0:30", "duration": "10/20/40"}
ROWS = [
    {"key": "a", "id": "A", "lanes": "EV1", "start": "0:00", "duration": "30"},
    NEW,
    {"key": "b", "id": "B", "lanes": "EV1", "start": "0:30", "duration": "10"},
    {"key": "j", "id": "J", "lanes": "EV1 EV2", "start": "0:55", "duration": "20"},
    {"key": "c", "id": "C", "lanes": "EV2", "start": "0:00", "duration": "55"},
    {"key": "d", "id": "D", "lanes": "EV2", "start": "1:15", "duration": "5"},
    {"key": "e", "id": "E", "lanes": "EV1", "start": "2:00", "duration": "5"},
    {"key": "f", "id": "F", "lanes": "ARM", "start": "1:15", "duration": "5", "after": "J", "follows": "B+40"},
    {"key": "g", "id": "G", "lanes": "ARM", "start": "0:40", "duration": "5"},
    {"key": "k", "id": "K", "lanes": "EV1", "contingency": "leak", "duration": "5"},
    {"key": "h", "id": "H", "lanes": "EV1", "get_ahead": "yes", "duration": "5"},
]


def shifted(run: Run, rows: list[dict[str, str]], key: str = "n", endings: dict[str, Any] | None = None) -> Any:
    """What moves, as task -> start; checked to be what changed in the rows, and nothing else."""
    found = run("return modules.shift.shifted(given[0], given[1], given[2])", rows, key, endings or {})
    if found["later"] is None:
        return None
    later = {one["id"]: one["start"] for one in found["later"]}
    assert found["rows"] == [{**row, "start": later[row["id"]]} if row["id"] in later else row for row in rows]
    return later


def test_what_follows_in_the_lanes_begins_later_as_far_as_it_must(run: Run) -> None:
    """Through joint tasks and links into other lanes; a gap takes it up, and what has no start stays without one."""
    assert shifted(run, ROWS) == {"B": "0:50", "J": "1:00", "D": "1:20", "F": "1:40"}


def test_nothing_moves_where_the_row_fits(run: Run) -> None:
    """Nor for what stands above it and begins with it. Without a start or a duration it is not known what has to move."""
    assert shifted(run, ROWS, "e") == {}
    assert shifted(run, [ROWS[2], NEW]) == {}
    assert shifted(run, [{**NEW, "duration": ""}, ROWS[2]]) is None
    assert shifted(run, [{**NEW, "start": ""}, ROWS[2]]) is None
    assert shifted(run, ROWS, "k") is None


def test_an_old_overlap_of_others_stays(run: Run) -> None:
    """Only what the row reaches is moved; the check names the rest."""
    other = {"key": "o", "id": "O", "lanes": "EV2", "start": "0:50", "duration": "5"}
    assert shifted(run, [NEW, ROWS[4], other]) == {}


@pytest.mark.parametrize(("options", "moved"), [(["out"], {}), (["in"], {"B": "0:50"}), (["out", "in"], {"B": "0:50"})])
def test_what_another_ending_has_instead_does_not_make_room(run: Run, options: list[str], moved: dict[str, str]) -> None:
    """Only one of the two is done."""
    assert shifted(run, [NEW, ROWS[2]], endings={"N": {"tray": ["in"]}, "B": {"tray": options}}) == moved
