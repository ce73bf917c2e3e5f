"""The ticks of what-if."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.pure.conftest import Run

DEFER = {"whatIf": "defer", "task": "T1"}
TRIM = {"whatIf": "trim", "task": "T1", "minutes": "12.5"}
MOVE = {"whatIf": "move", "task": "T1", "lane": "EV2"}
CHOOSE = {"whatIf": "choose", "alternative": "tray", "option": "in"}


@pytest.mark.parametrize(
    ("one", "other", "excluded"),
    [
        (DEFER, TRIM, True), (TRIM, DEFER, True), (DEFER, {"whatIf": "break_off", "task": "T1"}, True), (TRIM, MOVE, False),
        (MOVE, {**MOVE, "lane": "ARM"}, True), (DEFER, {**DEFER, "task": "T2"}, False),
        (CHOOSE, {**CHOOSE, "option": "out"}, True), (CHOOSE, {**CHOOSE, "alternative": "other"}, False), (DEFER, CHOOSE, False),
    ],
)  # fmt: skip
def test_ticks_that_contradict_each_other_do_not_stand_together(run: Run, one: Any, other: Any, excluded: bool) -> None:
    """A task is given up whole, or trimmed and handed over to one lane; of an alternative one option is taken."""
    assert run("return modules.ticks.excludes(given[0], given[1])", one, other) is excluded


def test_ticks_make_up_the_change_that_the_server_is_asked_about(run: Run) -> None:
    """By how each task is changed; a length is a number."""
    asked = run("return modules.ticks.changeOf(given[0])", [TRIM, MOVE, CHOOSE, {"whatIf": "break_off", "task": "T2"}])
    assert asked == {"defer": [], "trim": {"T1": 12.5}, "break_off": ["T2"], "move": {"T1": "EV2"}, "choose": {"tray": "in"}}
