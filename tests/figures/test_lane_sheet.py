"""The lane sheet's payload is plain data, complete, and draws nothing twice."""

from __future__ import annotations

import json
import re
from typing import Any

from dashboard.figures.lane_sheet import LOOKS, TRACES, empty_figure, outside_windows, sheet_payload
from dashboard.figures.theme import DARK, resolved
from tests.scenario import follow_at, plan_of, task

WINDOWS = '[[window]]\nkind = "daylight"\nfrom = "0:32"\nto = "1:25"\n[[window]]\nkind = "daylight"\nfrom = "2:05"\nto = "2:57"\n'
PLAN = plan_of(
    WINDOWS
    + task("T010", "EV1", 0, 30, title="Unstow pump")
    + task("T020", "EV2", 0, 60, title="Prepare tray")
    + task("T030", "EV1 EV2", 60, 90, title="Swap tray")
    + task("T040", "EV1 ARM EV2", 150, 30, title="Park arm")
)
LOG = "0:00 clock\n0:01 start T010\n0:20 start T020\n0:31 done T010"


def _payload(pet: str = "0:50", log: str = LOG) -> dict[str, Any]:
    return sheet_payload(PLAN, follow_at(PLAN, log, pet))


def test_the_payload_is_plain_data_with_roles_for_colours() -> None:
    """It serialises as it is, names only colour roles that exist, and holds no colour itself."""
    text = json.dumps([_payload(), empty_figure(PLAN)])
    assert set(re.findall(r"var\(--([a-z-]+)\)", text)) <= set(DARK)
    assert not re.search(r"#[0-9a-fA-F]{6}", text)
    assert "var(--" not in json.dumps(resolved(_payload()))


def test_the_stamp_changes_with_what_is_shown_and_only_then() -> None:
    """Two states that show the same have the same stamp; a minute later it differs."""
    assert _payload()["stamp"] == _payload()["stamp"]
    assert _payload("0:50")["stamp"] != _payload("0:51")["stamp"]


def test_bars_stand_where_their_blocks_are() -> None:
    """A bar's base is its start, its height its minutes, its middle and width those of its columns."""
    bars = _payload()["traces"]["blocks"]
    at = next(i for i, hover in enumerate(bars["customdata"]) if "(T010)" in hover)
    assert (bars["base"][at], bars["y"][at]) == (1.0, 30.0)
    left, right = bars["x"][at] - bars["width"][at] / 2, bars["x"][at] + bars["width"][at] / 2
    assert 0 < left < 0.2 and 0.9 < right < 1


def test_every_form_is_its_own_without_colour() -> None:
    """Done, projected, on hold, held and close-out differ by hatch or edge, not by fill alone."""
    forms = {name: (look[2], look[3]) for name, look in LOOKS.items() if name not in ("work", "work rest")}
    assert forms["done"] != forms["projected"] != forms["held"]
    assert forms["hold"][0] > forms["done"][0]
    assert len({forms["done"], forms["projected"], forms["hold"], forms["held"], forms["close-out"]}) == 5


def test_a_flag_and_a_bar_of_spread_say_what_they_are() -> None:
    """The same number of texts as of marks, each with the id of its task."""
    traces = _payload()["traces"]
    for name, meaning in (("briefed", "briefed start PET"), ("spread", "its end lies in this bar with 80 % chance, PET")):
        said = traces[name]["customdata"]
        assert len(said) == len(traces[name]["y"]) > 0
        assert all(re.match(r"[A-Z]\d+: ", one) and meaning in one for one in said), said


def test_a_drift_line_runs_from_the_briefed_start_to_the_real_one() -> None:
    """Twenty minutes late: a line from 0:00 to 0:20. One minute late: a tick and no line."""
    traces = _payload()["traces"]
    lines = list(zip(traces["drift"]["y"][::3], traces["drift"]["y"][1::3], strict=True))
    assert (0.0, 20.0) in lines
    assert (0.0, 1.0) not in lines
    assert traces["briefed"]["y"].count(0.0) == 2


def test_a_joint_task_has_one_drift_line() -> None:
    """A task of two neighbouring lanes slips by one line, not by two."""
    ticks = _payload()["traces"]["briefed"]["y"]
    assert ticks.count(60.0) == 1


def test_now_and_the_limit_are_lines_with_their_times() -> None:
    """The line of now and the limit stand at their PET, with badges on the axis and the reason beside."""
    payload = _payload()
    lines = {shape["y0"] for shape in payload["shapes"] if shape["type"] == "line"}
    assert {50.0, 390.0} <= lines
    assert [badge["text"] for badge in payload["badges"]] == ["<b>0:50</b>", "<b>6:30</b>"]
    limit = payload["side"][0]["text"].replace("<br>", " ").replace("\u00a0", " ")
    assert limit == "limit PET 6:30: planned limit less reserve"


def test_the_night_is_what_lies_between_daylight_windows() -> None:
    """Outside every window is dark; a kind that the plan does not have darkens nothing."""
    assert outside_windows(PLAN, "daylight", 0, 300) == [(0, 32.0), (85.0, 125.0), (177.0, 300)]
    assert outside_windows(PLAN, "link", 0, 300) == []
    nights = [(s["y0"], s["y1"]) for s in _payload()["shapes"] if s["type"] == "rect"]
    assert (85.0, 125.0) in nights


def test_windows_are_named_where_they_begin_and_end() -> None:
    """The side says in words, with PET, where the dark begins and where daylight does."""
    said = [s["text"].replace("<br>", " ").replace("\u00a0", " ") for s in _payload()["side"]]
    assert "dark from PET 1:25" in said and "daylight from PET 2:05" in said


def test_a_head_compares_its_lane_with_the_brief() -> None:
    """The head of a column names the lane and its minutes ahead or behind."""
    heads = {re.sub("<[^>]+>", "", column["text"]) for column in _payload()["columns"]}
    assert "EV2  20 min behind" in heads


def test_the_figure_has_all_traces_and_runs_downwards() -> None:
    """The browser fills the traces by name; the PET axis has its larger end at the bottom."""
    figure = empty_figure(PLAN)
    assert tuple(trace["name"] for trace in figure["data"]) == TRACES
    assert {*_payload()["traces"], "labels", "right"} == set(TRACES)
    bottom, top = figure["layout"]["yaxis"]["range"]
    assert bottom > top
    assert figure["layout"]["xaxis"]["range"] == [0, 3]


def test_every_time_on_the_sheet_has_its_clock() -> None:
    """Outside the axis headed PET, each H:MM in a text follows the word PET, a `to`, or stands in a hover range."""
    payload = _payload()
    texts = [label[key] for label in payload["labels"] for key in ("second", "right")]
    texts += [side["text"].replace("\u00a0", " ") for side in payload["side"]]
    texts += [said for name in ("blocks", "spread", "briefed") for said in payload["traces"][name]["customdata"]]
    for text in texts:
        for found in re.finditer(r"-?\d+:\d\d", text):
            assert re.search(r"(PET |to )$", text[: found.start()]), text


def test_before_pet_zero_there_is_a_sheet_too() -> None:
    """Before the clock event the whole plan is projected and the head says nothing it does not know."""
    payload = _payload("-0:20", "0:00 clock")
    assert payload["now"] == -20.0
    assert payload["span"][0] <= -20.0
    assert {re.sub("<[^>]+>", "", column["text"]) for column in payload["columns"]} == {"EV1", "EV2", "ARM"}
