"""What is different from the last issue of a brief."""

from __future__ import annotations

import pytest

from dashboard.core.brief.compare import issue_of
from dashboard.core.brief.revision import revision_of
from tests.core.brief.made import PLAN, TEXT, changed
from tests.scenario import plan_of, task


def said(old, new=PLAN):
    return [(one.kind, one.part, one.name, one.field, one.before, one.after) for one in issue_of(old, new).changes]


def test_the_same_plan_has_no_changes():
    """And names the revision that it was compared with."""
    issue = issue_of(PLAN, PLAN)
    assert issue.changes == [] and issue.revision == revision_of(PLAN) and issue.sortie == "t"


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (('start = "0:20"', 'start = "0:25"'),
         ("moved", "task", "LAMP", "start", "PET 0:25", "PET 0:20")),
        (("duration = [20, 30, 50]", "duration = [20, 25, 50]"),
         ("lengthened", "task", "LAMP", "duration", "20 / 25 / 50 min", "20 / 30 / 50 min")),
        (("duration = [20, 30, 50]", "duration = [20, 40, 50]"),
         ("shortened", "task", "LAMP", "duration", "20 / 40 / 50 min", "20 / 30 / 50 min")),
        (("duration = [20, 30, 50]", "duration = [10, 30, 50]"),
         ("changed", "task", "LAMP", "duration", "10 / 30 / 50 min", "20 / 30 / 50 min")),
        (("Wrench in the left hand", "Wrench"), ("changed", "task", "LAMP", "notes", "Wrench", "Wrench in the left hand")),
        (('can_move_to = ["EV2"]', ""), ("changed", "task", "LAMP", "can_move_to", "", "EV2")),
        (('limit = "3:00"', 'limit = "2:30"'), ("changed", "sortie", "", "limit", "PET 2:30", "PET 3:00")),
        (("from = 20\nto = 80", "from = 20\nto = 90"), ("changed", "window", "daylight 1", "to", "PET 1:30", "PET 1:20")),
        (("loaded = 400", "loaded = 380"), ("changed", "suit", "A", "battery.loaded", "380", "400")),
        (('hold = ["LAMP"]', 'hold = ["JOIN"]'), ("changed", "contingency", "stuck", "hold", "JOIN", "LAMP")),
        (("duration = 6", "duration = 9"), ("shortened", "contingency", "stuck LEVER", "duration", "9 min", "6 min")),
        (('keep = ["KEEP"]', 'keep = []'), ("changed", "alternative", "ending", "options.keep", "", "KEEP")),
        (('lash = ["LASH"]\n', ""), ("changed", "alternative", "ending", "options.lash", "", "LASH")),
        (('default = "keep"', 'default = "lash"'), ("changed", "alternative", "ending", "default", "lash", "keep")),
    ],
)  # fmt: skip
def test_one_change_is_one_entry(change, expected):
    """Of every table of the plan file: with its kind, its field, and the values of both issues."""
    found = said(changed(change))
    assert len(found) == 1
    assert all(want is None or got == want for got, want in zip(found[0], expected, strict=True)), found


def test_what_was_added_and_what_was_removed():
    """Whole entries; a removed one is listed, and is not among the names that are marked."""
    more = plan_of(TEXT + task("WASH", "EV2", 95, 5, title="Wash"))
    assert said(PLAN, more) == [("added", "task", "WASH", "", "", "")]
    assert said(more, PLAN) == [("removed", "task", "WASH", "", "", "")]
    assert issue_of(PLAN, more).changed("task") == {"WASH"} and issue_of(more, PLAN).changed("task") == set()
