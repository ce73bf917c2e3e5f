"""The brief with its forecast."""

from __future__ import annotations

from tests.core.outlook.plans import SOUND, briefed
from tests.scenario import task


def test_its_work_is_what_the_brief_has_in_the_sortie():
    """Without get-aheads, and without the options that are not the default."""
    more = task("G", "EV1", None, 10, get_ahead=True) + task("X", "EV2", 60, 20) + task("Y", "EV2", 60, 40)
    ending = '[[alternative]]\nid = "e"\ndefault = "short"\noptions = { short = ["X"], long = ["Y"] }\n'
    one = briefed(SOUND + more + ending)
    assert [each.id for each in one.ordinary] == ["T1", "T2", "T3", "T31", "T32", "HOME", "X"]
    assert one.place("X", "start") == ("task", 7, "start")


def test_the_way_home_is_known():
    """The last required task of both lanes."""
    assert briefed().way_home == {"HOME"}
