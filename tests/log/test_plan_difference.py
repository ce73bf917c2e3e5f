"""What was changed between two states of the tasks, in words, and two editors put together."""

from __future__ import annotations

from typing import Any

from dashboard.log.plan_difference import difference, merged

TABLES: dict[str, Any] = {"lane": [{"id": "EV1"}, {"id": "EV2"}]}
A = {"id": "T010", "title": "Unstow", "lanes": "EV1", "start": "0:00", "duration": "30"}
B = {"id": "T020", "title": "Carry", "lanes": "EV1 EV2", "start": "0:30", "duration": "20/30/50", "after": "T010"}
C = {"id": "T030", "lanes": "EV2", "start": "1:00", "duration": "10"}


def said(before: list[dict[str, str]], after: list[dict[str, str]]) -> list[str]:
    return [one.words for one in difference(before, after, TABLES)]


def test_a_task_that_was_added_removed_or_changed_is_said() -> None:
    """With its old and its new text, and with all texts of a new one."""
    assert said([A, B], [{**A, "duration": "35"}, C]) == [
        "Task T020 (Carry) was removed.",
        "Task T010 (Unstow): duration from '30' to '35'.",
        "Task T030 was added: lanes 'EV2', start '1:00', duration '10'.",
    ]


def test_a_text_that_came_or_went_is_said_as_nothing() -> None:
    """And a step that was put into a contingency says from where to where."""
    (words,) = said([B], [{**B, "after": "", "notes": "mind the cable", "contingency": "leak"}])
    assert "after from 'T010' to nothing" in words and "notes from nothing to 'mind the cable'" in words
    assert "from the plan to contingency leak" in words


def test_texts_that_mean_the_same_are_no_difference() -> None:
    """Other spaces, other ways to write a duration, a time and a list."""
    assert said([A, B], [{**A, "duration": " 0:30 ", "start": "0"}, {**B, "lanes": "EV1, EV2", "duration": "20 30 50"}]) == []
    assert said([A], [{**A, "duration": "30/30/30"}]) == ["Task T010 (Unstow): duration from '30' to '30/30/30'."]


def test_a_task_of_which_only_the_name_is_new_was_renamed() -> None:
    """It was not removed and added."""
    assert said([A, B], [A, {**B, "id": "T025"}]) == ["Task T020 is now called T025."]


def test_a_task_in_another_place_was_moved() -> None:
    """The others were not, and neither were those after a task that is gone."""
    assert said([A, B, C], [A, C, B]) in (
        ["Task T020 (Carry) now stands after T030."], ["Task T030 now stands after T010."],
    )  # fmt: skip
    assert said([A, B, C], [B, C]) == ["Task T010 (Unstow) was removed."]


def test_changes_of_two_editors_are_both_kept() -> None:
    """In different cells of one task, in different tasks, and with what each added and removed."""
    theirs = [{**A, "title": "Unstow pump"}, B, {**C, "id": "T040"}]
    mine = [{**A, "duration": "35"}, C]
    together = merged([A, B], theirs, mine, TABLES)
    assert together.both == []
    assert [row["id"] for row in together.rows] == ["T010", "T030", "T040"]
    assert (together.rows[0]["title"], together.rows[0]["duration"]) == ("Unstow pump", "35")


def test_what_both_changed_is_said_and_the_second_editor_counts() -> None:
    """A cell, a task that one removed and the other changed, either way round."""
    cell = merged([A], [{**A, "duration": "40"}], [{**A, "duration": "35"}], TABLES)
    assert cell.rows[0]["duration"] == "35" and "the file has '40', you have '35'" in cell.both[0]
    gone = merged([A, B], [{**A, "duration": "40"}, B], [B], TABLES)
    assert [row["id"] for row in gone.rows] == ["T020"] and "You removed task T010" in gone.both[0]
    kept = merged([A, B], [B], [{**A, "duration": "35"}, B], TABLES)
    assert {row["id"] for row in kept.rows} == {"T010", "T020"} and "You changed task T010" in kept.both[0]
    same = merged([A], [{**A, "duration": "35"}], [{**A, "duration": "35"}], TABLES)
    assert same.both == []
