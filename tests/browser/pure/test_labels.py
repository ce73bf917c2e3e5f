"""The words in the blocks of the lane sheet. Here each letter is 10 px wide, where a test does not say otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.pure.conftest import Run

NAMES = "cut, wrapped, uncut, outOf, rowsOf, clearStretches, interrupted, fitted"
TEN = f"const {{ {NAMES} }} = modules.labels, ten = (text) => 10 * text.length;"
PLACE = {"width": 900, "height": 800, "column": 300, "perMin": 4}


def label(start: float = 100, end: float = 160, **more: Any) -> dict[str, Any]:
    given = {"task": "T1", "title": "Fit tray", "second": "40 min", "right": "", "word": "", "struck": False, "strong": True,
             "rest": "", "colour": "c", "labelled": True, "box": [0, 1, start, end], "room": end}  # fmt: skip
    return {**given, **more}


def payload(*labels: dict[str, Any], now: float = 90.0) -> dict[str, Any]:
    traces = {"drift": {"x": [], "y": []}, "briefed": {"x": [], "y": []}}
    return {"now": now, "limit": 400, "labels": list(labels), "traces": traces}


@pytest.mark.parametrize(("room", "said"), [(80, "Fit tray"), (79, "Fit tr…"), (50, "Fit…"), (19, "")])
def test_a_text_too_wide_is_cut_with_an_ellipsis(run: Run, room: float, said: str) -> None:
    """It fits with its ellipsis, ends in no blank, and is gone where not even a letter fits."""
    assert run(TEN + "return cut(ten, 'Fit tray', 14, true, given[0])", room) == said


@pytest.mark.parametrize(
    ("text", "room", "said"),
    [("T240 Arm brings", 60, "T240…"), ("T240 Arm", 30, ""), ("Bolts 10 to 12", 130, "Bolts 10 to…"), ("Bolts 12", 70, "Bolts…"),
     ("Bolts 1 to 4", 80, "Bolts…")],
)
def test_no_word_with_a_digit_is_cut_in_two(run: Run, text: str, room: float, said: str) -> None:
    """An id or a number is shown whole or not at all: a part of it would be another one."""
    assert run(TEN + "return cut(ten, given[0], 14, true, given[1])", text, room) == said


@pytest.mark.parametrize(
    ("room", "lines", "said"),
    [(180, 1, ["24 min, briefed 20"]), (179, 1, ["24 min"]), (179, 2, ["24 min, briefed", "20"]), (50, 1, [])],
)
def test_what_does_not_fit_of_a_second_line_is_left_out_and_not_cut(run: Run, room: float, lines: int, said: list[str]) -> None:
    """Part by part from the end; a line whose first part does not fit is not there."""
    assert run(TEN + "return uncut(ten, '24 min, briefed 20', 13, given[0], given[1])", room, lines) == said


def test_an_escaped_letter_counts_as_one_and_is_never_cut_in_two(run: Run) -> None:
    """The text is measured as it is seen, and stays escaped."""
    assert run(TEN + "return cut(ten, 'a &amp; b', 14, true, 50)") == "a &amp; b"
    assert run(TEN + "return cut(ten, 'a &lt;b&gt; c', 14, true, 50)") == "a &lt;b…"


def test_a_title_is_wrapped_at_blanks_and_its_last_line_cut(run: Run) -> None:
    """No more lines than there may be."""
    assert run(TEN + "return wrapped(ten, 'Release the tray bolts', 14, true, 120, 2)") == ["Release the", "tray bolts"]
    assert run(TEN + "return wrapped(ten, 'Release the tray bolts', 14, true, 120, 1)") == ["Release the…"]


def test_the_room_of_a_block_ends_at_lines_and_at_blocks_over_it(run: Run) -> None:
    """A line splits it; another block of its column takes its part away; one of another column does not."""
    script = TEN + "return clearStretches(given[0], given[1], [120], [0, 200], 4)"
    found = run(script, label(), [[0.5, 1, 140, 150], [1, 2, 100, 160]])
    assert found == [{"top": 100, "px": 80}, {"top": 120, "px": 80}, {"top": 150, "px": 40}]


def test_only_what_is_in_view_is_room(run: Run) -> None:
    """Above and below it no words are put."""
    found = run(TEN + "return clearStretches(given[0], [], [], [130, 150], 4)", label())
    assert found == [{"top": 130, "px": 80}]
    assert run(TEN + "return clearStretches(given[0], [], [], [300, 500], 4)", label()) == []


def test_a_line_of_drift_stops_at_words_and_goes_on_after_them(run: Run) -> None:
    """Words beside it do not matter."""
    drift = {"x": [1, 1.1, None], "y": [100, 200, None]}
    script = TEN + "return interrupted(given[0], given[1])"
    found = run(script, drift, [[0.5, 1.5, 120, 140], [2, 3, 150, 160]])
    assert found["x"] == pytest.approx([1, 1.02, None, 1.04, 1.1, None])
    assert found["y"] == pytest.approx([100, 120, None, 140, 200, None])
    assert run(script, drift, []) == drift


def test_the_lines_and_flags_of_drift_give_way_to_the_words_of_a_block(run: Run) -> None:
    """They go on under the two lines of the words; a flag over the words is left out."""
    traces = {"drift": {"x": [0.2, 0.3, None], "y": [100, 160, None]}, "briefed": {"x": [0.2, 0.2], "y": [102, 150]}}
    given = {**payload(label(title="A title that is as wide as its block")), "traces": traces}
    found = run(TEN + "return fitted(given[0], [0, 200], given[1], ten)", given, PLACE)
    assert found["briefed"]["y"] == [150]
    above, below = found["drift"]["y"][:2], found["drift"]["y"][3:5]
    assert above[0] == 100 and above[1] < 102 and below[0] > 107 and below[1] == 160


def test_one_line_has_the_id_the_title_and_the_one_word_that_must_stay(run: Run) -> None:
    """Beside it the second line, where there is room; else the word, for which the title is cut, but not the id."""
    script = TEN + "return rowsOf(ten, given[0], 1, given[1], 14, 13)"
    late = label(word="late", second="late, 12 min over")
    assert run(script, late, 330) == [{"left": "<b>T1 Fit tray</b>", "right": "late, 12 min over", "isTitle": True}]
    assert run(script, late, 170) == [{"left": "<b>T1 Fit tray</b>", "right": "late", "isTitle": True}]
    assert run(script, late, 130) == [{"left": "<b>T1 Fit…</b>", "right": "late", "isTitle": True}]
    assert run(script, late, 90) == [{"left": "<b>T1…</b>", "right": "late", "isTitle": True}]
    assert run(script, late, 76) == [{"left": "<b>T1</b>", "right": "late", "isTitle": True}]


def test_only_what_is_going_on_is_bold_and_a_long_title_has_three_lines_before_it_is_cut(run: Run) -> None:
    """The second line keeps its place."""
    more = label(title="Close the supply valve at once", strong=False)
    rows = run(TEN + "return rowsOf(ten, given[0], 4, 130, 14, 13)", more)
    assert [row["left"] for row in rows] == ["T1 Close the", "supply valve", "at once", "40 min"]


def test_a_reason_has_as_many_lines_as_there_are(run: Run) -> None:
    """Where it does not fit, the one word stays."""
    held = label(word="on hold", second="on hold: a stop, 12 of 30 min")
    script = TEN + "return rowsOf(ten, given[0], given[1], 140, 14, 13).map((row) => row.left)"
    assert run(script, held, 4) == ["<b>T1 Fit tray</b>", "on hold: a", "stop, 12 of 30", "min"]
    assert run(script, held, 2) == ["<b>T1 Fit tray</b>", "on hold"]


def test_what_left_the_sortie_is_struck_through(run: Run) -> None:
    """Its title, on every line."""
    (row, *_) = run(TEN + "return rowsOf(ten, given[0], 2, 300, 14, 13)", label(struck=True))
    assert row["left"] == "<b><s>T1 Fit tray</s></b>"


def test_a_low_block_has_small_words_and_a_lower_one_its_id_inside_or_above(run: Run) -> None:
    """Under about 20 px one line of 13 px; under 15 px the line above it, or where that is taken its id, from 9.5 px on."""
    script = TEN + "return fitted(given[0], [0, 200], given[1], ten).labels"
    assert run(script, payload(label(100, 110)), PLACE)["textfont"]["size"] == [16]
    low = run(script, payload(label(100, 104)), PLACE)
    assert low["textfont"]["size"] == [13] and "Fit tray" in low["text"][0] and low["y"][0] > 100
    free = run(script, payload(label(100, 103)), PLACE)
    assert "T1 Fit tray" in free["text"][0] and free["y"][0] < 100 - 2.5 and free["textfont"]["color"] == ["var(--text)"]
    before = label(60, 99, task="T0")
    taken = run(script, payload(before, label(100, 103)), PLACE)
    assert taken["text"][1] == "T1" and 99 < taken["y"][1] < 103 and taken["textfont"]["color"][1] == "c"
    assert len(run(script, payload(before, label(100, 102.3)), PLACE)["text"]) == 1


def test_a_low_block_in_work_has_its_words_above_though_the_line_of_now_crosses_it(run: Run) -> None:
    """Unless that line runs through the room above it."""
    script = TEN + "return fitted(given[0], [0, 200], given[1], ten).labels"
    assert run(script, payload(label(100, 105), now=102), PLACE)["y"][0] < 100
    assert run(script, payload(label(100, 103), now=98), PLACE)["text"] == ["T1"]


def test_words_start_inside_their_block_in_the_first_stretch_with_room_for_two_lines(run: Run) -> None:
    """Below the line of now, where that leaves too little above it."""
    found = run(TEN + "return fitted(given[0], [0, 200], given[1], ten).labels", payload(label(), now=104), PLACE)
    assert len(found["x"]) == 1
    assert 0 < found["x"][0] < 0.1 and 104 < found["y"][0] < 108


def test_the_rest_of_a_task_says_its_word_below_the_line_of_now(run: Run) -> None:
    """Where the words above it had room for the title alone: in the colour of what is projected."""
    whole = label(100, 160, rest="r", second="20 min to go", title="A title for a line")
    found = run(TEN + "return fitted(given[0], [0, 200], given[1], ten).labels", payload(whole, now=107), PLACE)
    assert found["textfont"]["color"] in (["r"], ["c", "r"])
    assert any("20 min to go" in text for text in found["text"])


def test_a_block_that_is_not_to_be_labelled_has_no_words(run: Run) -> None:
    """But it takes room from others."""
    over = label(100, 130, task="T2", labelled=False)
    found = run(TEN + "return fitted(given[0], [0, 200], given[1], ten).labels", payload(label(), over), PLACE)
    assert len(found["text"]) == 1 and found["y"][0] > 130


def test_what_the_sortie_does_not_do_is_told_by_its_reason_with_titles_or_with_as_many_ids_as_fit(run: Run) -> None:
    """And nothing is cut: the rest is counted."""
    tasks = (("T390", "deferred"), ("T350", "broken off"), ("T400", "deferred"))
    out = [{"task": task, "title": f"Title {task[1:]}", "word": word} for task, word in tasks]
    said = TEN + "return outOf(...given)"
    assert run(said, out, True) == "deferred T390 Title 390; T400 Title 400; broken off T350 Title 350"
    assert run(said, out, False, 3) == "deferred T390, T400; broken off T350"
    assert run(said, out, False, 1) == "deferred T390 and 2 more"
    assert run(said, [], True) == "nothing deferred or broken off"
