"""What the browser makes of a change of the board: the board that the server has."""

from __future__ import annotations

import json
from typing import Any

import orjson
import pytest

from dashboard.service.changes import change_of
from tests.browser.pure.conftest import Run
from tests.service.test_changes import rows

BOARDS = [
    {"html": {"log": rows(0, 40), "band": "a"}, "sheet": {"labels": list(range(20)), "columns": [1]}, "entry": {"tasks": ["A"]}},
    {"html": {"log": rows(1, 41), "band": "b"}, "sheet": {"labels": [*range(19), 99], "columns": [1, 2]}, "rail": None},
    {"html": {"log": rows(5, 45) + "<p>😀 é</p>", "more": "c"}, "sheet": {"labels": [], "columns": [1, 2]}},
]


@pytest.mark.parametrize(("before", "after"), [(a, b) for a in BOARDS for b in BOARDS if a is not b])
def test_a_change_makes_the_board_of_the_server(run: Run, before: Any, after: Any) -> None:
    """From each to each; what was there before stays as it was."""
    change = json.loads(orjson.dumps(change_of(before, after), option=orjson.OPT_NON_STR_KEYS))
    script = "const was = JSON.stringify(given[0]); const made = modules.changes.changed(given[0], given[1]); " \
        "return [made, was === JSON.stringify(given[0])];"
    assert run(script, before, change) == [after, True]
