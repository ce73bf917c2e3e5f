"""Tasks by what someone types."""

from __future__ import annotations

import pytest

from tests.browser.pure.conftest import Run

OFFERS = [
    ["T10", "T10 Count tools (done)"],
    ["T240", "T240 Tray bolts 1 to 4"], ["T24", "T24 Bolts of the tray"], ["C1", "C1 T24 again"],
]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "found"),
    [("t24", ["T240", "T24", "C1"]), ("tray bolts", ["T240", "T24"]), ("  ", []), ("bolts 1", ["T240"]), ("nothing", [])],
)
def test_a_task_is_found_by_its_id_or_by_words_of_its_title(run: Run, typed: str, found: list[str]) -> None:
    """Ids that begin so come first; all words must be there, in any order."""
    assert [one[0] for one in run("return modules.search.matching(given[0], given[1])", OFFERS, typed)] == found


def test_no_more_are_offered_than_can_be_looked_over(run: Run) -> None:
    """Eight."""
    assert len(run("return modules.search.matching(given[0], 't')", [[f"T{n}", f"T{n}"] for n in range(20)])) == 8
