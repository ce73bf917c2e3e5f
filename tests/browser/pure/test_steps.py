"""Which step of the brief comes next, and which are shown."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.pure.conftest import Run

PETS = [0, 8, 20, 20, 31]


@pytest.mark.parametrize(
    ("at", "way", "in_time", "to"),
    [
        (0, "next", False, 1), (2, "next", False, 3), (4, "next", False, 4), (0, "previous", False, 0), (3, "previous", False, 2),
        (3, "first", False, 0), (0, "last", False, 4),
        (1, "next", True, 2), (2, "next", True, 4), (4, "next", True, 4), (4, "previous", True, 2), (3, "previous", True, 1),
        (0, "previous", True, 0), (0, "last", True, 4),
    ],
)  # fmt: skip
def test_the_place_after_a_move(run: Run, at: int, way: str, in_time: bool, to: int) -> None:
    """Step by step, or from one start to the next; nothing lies beyond the ends."""
    assert run("return modules.steps.moved(...given)", PETS, at, way, in_time) == to


def test_steps_that_begin_together_are_shown_together(run: Run) -> None:
    """In time; otherwise one alone. The place is said so that it can be found in the printed brief."""
    each = "(at) => [false, true].map((inTime) => modules.steps.shown(given[0], at, inTime))"
    shown: Any = run(f"return [0, 2, 3].map({each})", PETS)
    assert shown == [[[0], [0]], [[2], [2, 3]], [[3], [2, 3]]]
    assert run("return [modules.steps.placeText([2], 5), modules.steps.placeText([2, 3], 5)]") == ["3 of 5", "3 to 4 of 5"]


def test_the_last_start_is_shown_whole(run: Run) -> None:
    """End leads to the first of the steps that begin last."""
    assert run("return modules.steps.moved([0, 5, 5], 0, 'last', true)") == 1


def test_keys(run: Run) -> None:
    """Arrows, page keys and space; any other key is left alone."""
    keys = ["ArrowRight", "ArrowDown", "PageDown", " ", "ArrowLeft", "ArrowUp", "PageUp", "Home", "End", "x"]
    ways = run("return given[0].map((key) => modules.steps.wayOf(key) || null)", keys)
    assert ways == ["next"] * 4 + ["previous"] * 3 + ["first", "last", None]
