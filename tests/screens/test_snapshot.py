"""What the server hands to the page fits the page, and words stay words."""

from __future__ import annotations

import json
from typing import Any

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Plan
from dashboard.core.state.log_in_words import logbook
from dashboard.screens.page import page_layout
from dashboard.screens.snapshot import board_snapshot
from tests.scenario import at, follow_at, log_of
from tests.screens.html_text import attribute, said
from tests.screens.plans import plain_plan, suited_plan

LOG = """
    0:00 clock
    0:01 start T010
    0:32 done T010
    0:33 start T020
    0:40 note text=<script>alert(1)</script>
    0:41 hold T020 reason=<b>stuck</b>
    0:42 done T999
"""


def snapshot_at(plan: Plan, pet: str, log: str = LOG) -> dict[str, Any]:
    """The board at a PET."""
    events = log_of(log)
    entries = logbook(plan, events, parse_instant(at(pet)))
    return board_snapshot(plan, follow_at(plan, events, pet), entries)


def ids_of(component: Any) -> set[str]:
    """Every id of a page."""
    found = {component.id} if isinstance(getattr(component, "id", None), str) else set()
    children = getattr(component, "children", None)
    for child in children if isinstance(children, list | tuple) else [children]:
        if hasattr(child, "to_plotly_json"):
            found |= ids_of(child)
    return found


@pytest.mark.parametrize("plan", [plain_plan(), suited_plan()], ids=["without suits", "with a suit"])
@pytest.mark.parametrize("pet", ["-0:10", "0:00", "0:41", "2:00", "8:00"])
def test_every_piece_has_its_place_on_the_page(plan: Plan, pet: str) -> None:
    """Nothing the server makes is lost for want of an element with its id."""
    assert set(snapshot_at(plan, pet)["html"]) <= ids_of(page_layout(plan))


@pytest.mark.parametrize("pet", ["-0:10", "0:41", "8:00"])
def test_the_same_pieces_come_at_every_hour(pet: str) -> None:
    """A place that was written once is written ever after: nothing old stays on screen."""
    assert set(snapshot_at(suited_plan(), pet)["html"]) == set(snapshot_at(suited_plan(), "0:10")["html"])


def test_a_snapshot_is_plain_json() -> None:
    """The board goes over the wire as it is."""
    made = snapshot_at(suited_plan(), "0:50")
    assert json.loads(json.dumps(made)) == made


def test_words_of_the_log_never_become_markup() -> None:
    """Notes and reasons are escaped wherever they are shown."""
    pieces = snapshot_at(plain_plan(), "0:50")["html"]
    everything = "".join(pieces.values())
    assert "<script" not in everything
    assert "<b>stuck" not in everything
    assert "<b>stuck</b>" in said(pieces["lane-body-EV1"])
    assert "<script>alert(1)</script>" in said(pieces["log-rows"])


def test_an_id_stands_once() -> None:
    """The page finds an element by its id; two of a name would share one fate."""
    pieces = snapshot_at(suited_plan(), "0:50")["html"]
    ids = [name for piece in pieces.values() for name in attribute(piece, "id")]
    assert len(ids) == len(set(ids))
