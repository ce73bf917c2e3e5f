"""The keys of the board, each of which presses a button of the page."""

from __future__ import annotations

from dashboard.screens import keys
from dashboard.screens.ids import LanePart, lane_part
from dashboard.screens.page import page_layout
from tests.screens.plans import plain_plan


def ids_in(part: object) -> set[str]:
    """The ids of a component and of all in it."""
    found = {part.id} if getattr(part, "id", None) else set()
    children = getattr(part, "children", None)
    for child in children if isinstance(children, list | tuple) else [children]:
        if child is not None and not isinstance(child, str):
            found |= ids_in(child)
    return found


def test_every_key_presses_a_button_that_the_page_has() -> None:
    """Keys of the page, and of each card."""
    plan = plain_plan()
    there = ids_in(page_layout(plan))
    table = keys.table(plan)
    assert table["lanes"] and set(table["plain"].values()) <= there
    for lane in table["lanes"]:
        assert {lane_part(lane, part) for part in table["lane"].values()} <= there
    assert LanePart.AGO in table["lane"].values()


def test_no_key_has_two_meanings() -> None:
    """A key of the page is neither a number of a lane nor a key of the replay."""
    replay = {key.strip() for names in keys.REPLAY_KEYS for key in names.split(",")}
    assert not set(keys.KEYS) & (replay | set("123456789"))
