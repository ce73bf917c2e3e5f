"""Feeds on the board: one that is lost is named under the problems, until it is there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver

from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.feeds import feed
from dashboard.service.feeds.feeds import Feeds
from dashboard.service.feeds.file_feed import FileFeed
from dashboard.service.session.live import LiveSession
from tests.browser.board import Board, live_plan
from tests.waiting import until


def test_a_feed_that_is_lost_is_named_under_the_problems(
    browser: webdriver.Chrome, serve: Callable[[Any], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In words; the line goes when the feed is there, and nothing else has moved by then."""
    monkeypatch.setattr(feed, "LONGEST_PAUSE_S", 0.5)
    path, plan = tmp_path / "crew.jsonl", live_plan()
    session = LiveSession(plan, EventStore("sqlite://", plan.sortie.id))
    board = Board(browser, serve(make_app(Desk(session, feeds=Feeds([FileFeed(path, path.name)]))).server))
    board.open()
    until(lambda: "Feed crew.jsonl is lost" in board.text("problems-feeds"), "the feed that is lost")
    before = board.boxes()
    path.write_text('{"kind": "note", "text": "Radio check from the feed"}\n', encoding="utf-8")
    until(lambda: "Radio check from the feed" in board.text("log-rows"), "the entry of the feed in the log")
    until(lambda: board.text("problems-feeds") == "", "the feed in order")
    assert board.boxes() == before
    assert [line for line in browser.get_log("browser") if line["level"] == "SEVERE"] == []
