"""The drift is drawn as steps, told apart by form and named in words."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

from dashboard.core.state.history import DriftPoint
from dashboard.figures.drift import HEIGHT, LEFT, RIGHT, WIDTH, drift_svg

POINTS = [
    DriftPoint(0.0, {"EV1": 0.0, "EV2": 0.0}, 365.0, 390.0),
    DriftPoint(60.0, {"EV1": -12.0, "EV2": 4.0}, 372.0, 390.0),
    DriftPoint(120.0, {"EV1": -12.0, "EV2": 4.0}, 372.0, 388.0),
]


def drawn(points=POINTS):
    return ElementTree.fromstring(drift_svg(points))


def words_of(svg):
    return [one.text for one in svg.iter("text")]


def paths(svg, form):
    return [one.get("d") for one in svg.iter("path") if form in (one.get("class") or "").split()]


def test_every_line_is_named_at_its_end():
    """Each lane with its word, the end and the limit with their clock."""
    assert {"EV1 12 min behind", "EV2 4 min ahead", "end PET 6:12", "limit PET 6:28"} <= set(words_of(drawn()))


def test_lanes_differ_by_form_not_by_colour():
    """Each lane has a form of its own; nothing in the drawing names a colour."""
    svg = drawn()
    assert len(paths(svg, "drift-line-0")) == len(paths(svg, "drift-line-1")) == 1
    assert not re.search(r"fill=|stroke=|#[0-9a-f]{3}", drift_svg(POINTS))


def test_a_value_holds_until_the_next_instant():
    """On the brief to 1:00, half of the width, then down to behind: lower on the page."""
    found = re.fullmatch(r"M(\S+) (\S+)H(\S+)V(\S+)H(\S+)V(\S+)", paths(drawn(), "drift-line-0")[0])
    assert found
    x0, y0, x1, y1, x2, y2 = map(float, found.groups())
    assert (x0, x1, x2) == (LEFT, (LEFT + RIGHT) / 2, RIGHT)
    assert y0 < y1 == y2


def test_the_zero_line_is_the_brief_and_the_axis_is_headed_pet():
    """Levels in words, times under their clock."""
    said = words_of(drawn())
    assert "on the brief" in said and "10 min behind" in said
    assert "PET" in said and {"0:00", "1:00", "2:00"} <= set(said)


def test_labels_never_touch():
    """Lanes that stand at the same place keep their labels apart."""
    same = [DriftPoint(0.0, {"EV1": 3.0, "EV2": 3.0}, 365.0, 365.0), DriftPoint(60.0, {"EV1": 3.0, "EV2": 3.0}, 365.0, 365.0)]
    places = sorted(float(one.get("y")) for one in drawn(same).iter("text") if one.get("class") == "drift-label")
    assert len(places) == 4
    assert all(after - before >= 18 for before, after in zip(places, places[1:], strict=False))


def test_unknown_is_a_gap_and_a_word():
    """No line where nothing was known, and no place made up at the end."""
    gap = [
        DriftPoint(0.0, {"EV1": -2.0}, 365.0, 390.0), DriftPoint(30.0, {"EV1": None}, None, 390.0),
        DriftPoint(60.0, {"EV1": -2.0}, 365.0, 390.0), DriftPoint(90.0, {"EV1": None}, None, 390.0),
    ]  # fmt: skip
    svg = drawn(gap)
    assert paths(svg, "drift-line-0")[0].count("M") == 2
    assert "EV1 not known yet" in words_of(svg)
    assert not any(said.startswith("end") for said in words_of(svg))


def test_one_instant_can_be_drawn_and_none_is_nothing():
    """At PET zero there is a dot; before it nothing."""
    assert len(list(drawn(POINTS[:1]).iter("circle"))) == 4
    assert drift_svg([]) == ""


def test_all_lies_inside():
    """Extreme values stay on the drawing."""
    wild = [DriftPoint(0.0, {"EV1": 400.0}, 2000.0, 390.0), DriftPoint(700.0, {"EV1": -900.0}, 100.0, 10.0)]
    for one in drawn(wild).iter():
        for key in ("x", "x1", "x2", "cx"):
            assert 0 <= float(one.get(key, 0)) <= WIDTH
        for key in ("y", "y1", "y2", "cy"):
            assert 0 <= float(one.get(key, 0)) <= HEIGHT
