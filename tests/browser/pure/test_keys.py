"""What a key presses, and what the next key does."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.pure.conftest import Run

TABLE = {"plain": {"n": "note", "?": "help"}, "lane": {"n": "done-next", "d": "done"}, "said": {"d": "done", "n": "done, next"},
         "lanes": ["EV1", "EV2"]}  # fmt: skip


@pytest.mark.parametrize(
    ("key", "lane", "pressed"),
    [("n", None, {"button": "note"}), ("2", None, {"lane": "EV2"}), ("n", "EV2", {"part": "done-next", "of": "EV2"}),
     ("1", "EV2", {"lane": "EV1"}), ("3", None, {}), ("d", None, {}), ("?", "EV1", {}), ("Escape", "EV1", {})],
)  # fmt: skip
def test_the_number_of_a_lane_changes_what_the_next_key_presses(
    run: Run, key: str, lane: str | None, pressed: dict[str, Any]
) -> None:
    """A number that no lane has, and a letter that does not follow, press nothing; another number names another lane."""
    nothing = {"lane": None, "button": None, "part": None, "of": None}
    assert run("return modules.keys.pressedBy(given[0], given[1], given[2])", key, lane, TABLE) == {**nothing, **pressed}


def test_what_the_next_key_does_is_said(run: Run) -> None:
    """Of the lane that was named."""
    assert run("return modules.keys.hint('EV1', given[0])", TABLE) == "EV1: d done · n done, next"
