"""The drift of a replay as a form: below the briefed line is behind, a value holds until the next one, unknown is a gap."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

from dashboard.figures.strip import strip_svg

SPAN = (0.0, 100.0)


def paths(values, form):
    svg = ElementTree.fromstring(strip_svg(values, SPAN, "words"))
    return [one.get("d") for one in svg.iter("path") if one.get("class") == form]


def brief(values):
    return float(re.search(r'strip-brief" x1="0" x2="1000" y1="(\S+?)"', strip_svg(values, SPAN, ""))[1])


def test_behind_lies_below_the_briefed_line_and_ahead_above():
    """Steps: on the brief to PET 0:20, 30 min behind to 0:60, 5 min ahead to the end."""
    values = [(0.0, 0.0), (20.0, -30.0), (60.0, 5.0)]
    found = re.fullmatch(r"M0\.0 (\S+)V\S+H(\S+)V(\S+)H(\S+)V(\S+)H(\S+)", paths(values, "strip-edge")[0])
    assert found
    start, first, behind, second, ahead, last = map(float, found.groups())
    assert (first, second, last) == (200, 600, 1000)
    assert ahead < start == brief(values) < behind < 100


def test_what_is_unknown_is_a_gap():
    """One form before it, one after it; with nothing known only the briefed line stands."""
    assert len(paths([(0.0, -1.0), (20.0, None), (60.0, -2.0)], "strip-area")) == 2
    assert paths([(0.0, None)], "strip-area") == paths([], "strip-area") == []


def test_the_form_closes_on_the_briefed_line():
    """The depth is the filled form between the line of the drift and the briefed line."""
    values = [(0.0, -10.0)]
    assert paths(values, "strip-area")[0].endswith(f"V{brief(values)}Z")


def test_the_drawing_names_no_colour():
    """The style sheet gives them; a quarter of a minute behind does not fill the strip."""
    assert not re.search(r"fill=|stroke=|#[0-9a-f]{3}", strip_svg([(0.0, -0.25)], SPAN, ""))
    shallow = paths([(0.0, -0.25)], "strip-edge")[0]
    assert max(map(float, re.findall(r"V(\S+?)H", shallow))) < 30
