"""A value shows as a place on a scale."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import pytest

from dashboard.figures.marks import ahead_mark, margin_mark, scale_mark, svg


def test_on_the_brief_stands_in_the_middle() -> None:
    """0 is the middle of the scale of ahead and behind, with the normal range around it."""
    mark = ahead_mark(0.0)
    assert mark["at"] == mark["limit"] == 50.0
    assert mark["normal"] == (41.67, 58.33)


def test_more_in_hand_stands_further_right() -> None:
    """The mark of the margin moves right as the margin grows."""
    places = [margin_mark(minutes)["at"] for minutes in (-20.0, -1.0, 0.0, 15.0, 59.0)]
    assert places == sorted(places) and len(set(places)) == 5  # type: ignore[type-var]


@pytest.mark.parametrize(("minutes", "side", "place"), [(-31.0, "left", 0.0), (44.0, "right", 100.0)])
def test_a_value_beyond_the_scale_stays_on_it_and_says_so(minutes: float, side: str, place: float) -> None:
    """What is off the scale stands at its end, as a triangle and not as a mark."""
    mark = ahead_mark(minutes)
    assert (mark["beyond"], mark["at"]) == (side, place)
    drawn = svg(mark, "x")
    assert "mark-beyond" in drawn and "mark-value" not in drawn


def test_unknown_has_no_mark() -> None:
    """An unknown value leaves the scale empty rather than at zero."""
    drawn = svg(margin_mark(None), "margin not known yet")
    assert "mark-line" in drawn and "mark-value" not in drawn and "mark-beyond" not in drawn


def test_a_spread_needs_both_ends() -> None:
    """P10 without P90 is no spread; in either order they are one."""
    assert margin_mark(5.0, 1.0, None)["spread"] is None
    assert margin_mark(5.0, 20.0, -10.0)["spread"] == margin_mark(5.0, -10.0, 20.0)["spread"] == (22.22, 55.56)


def test_the_drawing_is_well_formed_and_says_itself() -> None:
    """The SVG parses, carries its words for those who cannot see it, and no colour."""
    drawn = svg(margin_mark(-8.0, -20.0, 4.0), 'margin "8 min" & over')
    root = ElementTree.fromstring(drawn)
    assert root.attrib["aria-label"] == 'margin "8 min" & over'
    assert [part.attrib["class"] for part in root] == [
        "mark-line", "mark-normal", "mark-spread", "mark-limit", "mark-value",
    ]
    assert "fill=" not in drawn and "stroke=" not in drawn


def test_a_scale_runs_upwards() -> None:
    """A scale without length is refused with what was expected."""
    with pytest.raises(ValueError, match="expected a scale with low under high; found 5 to 5"):
        scale_mark(1.0, 5.0, 5.0)
