"""The page of the board: what it carries for the browser's modules."""

from __future__ import annotations

import json
import re
from typing import get_args, get_type_hints

import pytest
from dash import Dash

from dashboard.core.base.caution import CAUTION
from dashboard.markup import tag
from dashboard.screens import ids, log, page, replaybar
from replay.recording import RecordedRun
from tests.screens.plans import plain_plan


def content(element: str) -> dict[str, dict[str, object]]:
    """The data of the element."""
    found = re.fullmatch(r'<script type="application/json" id="board-sent">(.*)</script>', element, re.DOTALL)
    assert found is not None
    sent: dict[str, dict[str, object]] = json.loads(found[1])
    return sent


def test_the_page_carries_the_ids_and_the_rules_of_the_server() -> None:
    """All ids of every region, the pattern of a card's, and limits that are set in one place."""
    sent = content(page.sent(2.0))
    assert sent["ids"] == ids.table()
    assert sent["ids"]["Log"]["ROWS"] == ids.Log.ROWS  # type: ignore[index]
    assert str(sent["lane_part"]).replace("{part}", "done").replace("{lane}", "EV1") == ids.lane_part("EV1", "done")
    assert sent["rules"] == {"far_before_min": 1440, "odd_min": 720.0, "heartbeat_s": 2.0}


def test_no_data_of_the_page_ends_its_element(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever an id may be called."""
    monkeypatch.setattr(ids, "table", lambda: {"Log": {"ROWS": "</script><b>"}})
    element = page.sent(2.0)
    assert element.count("<") == 2
    assert content(element)["ids"]["Log"] == {"ROWS": "</script><b>"}


def test_the_modules_come_after_what_they_read() -> None:
    """The data first, then the copy of Plotly, then the modules; nothing is left to be filled in."""
    app = Dash("test")
    page.register(app, tag("script", type="module"), 2.0)
    places = [app.index_string.index(part) for part in ("board-sent", "plotly.min.js", 'type="module"')]
    assert places == sorted(places)
    assert not re.search(r"\{(roles|sent|plot|modules)\}", app.index_string)


def test_the_question_before_a_decision_carries_the_caution() -> None:
    """In the words of the core."""
    assert CAUTION in str(log.layout(plain_plan()))


def test_each_way_of_counting_a_run_has_its_words() -> None:
    """As the room knew it, and as it really was."""
    assert set(replaybar.COUNTS) == set(get_args(get_type_hints(RecordedRun)["counts_from"]))
