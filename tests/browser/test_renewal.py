"""A page that outlives its server: it never goes on with the modules of another version."""

from __future__ import annotations

from typing import Any

import pytest
from selenium import webdriver

from dashboard.service import app
from dashboard.service.http.modules import Modules, read_modules
from tests.browser.board import Board, live_app, live_plan
from tests.live_server import LiveServer
from tests.waiting import until


class Restarted:
    """An application that has none of the modules that its first page asks for, as after a restart with other ones."""

    def __init__(self, app: Any) -> None:
        self.app = app
        self.pages = 0

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Answer as the application does, but under a path that it does not know."""
        if scope["type"] == "http" and scope["path"] == "/":
            self.pages += 1
        if scope["type"] == "http" and scope["path"].startswith("/modules/") and self.pages < 2:
            scope = {**scope, "path": "/modules/0123456789abcdef/main.js"}
        await self.app(scope, receive, send)


LOADED = "return document.querySelector('script[type=module]').src"

# Notes the status of each answer that the page gets, by the last part of its address.
WATCH = """
    const real = window.fetch;
    window.isSamePage = true;
    window.answers = [];
    window.fetch = async (address, ...more) => {
        const answer = await real(address, ...more);
        window.answers.push(String(address).split("/").pop() + " " + answer.status);
        return answer;
    };
"""


def renewed(folder: object) -> Modules:
    """The modules of the checkout as a later version might have them."""
    modules = read_modules(app.assets_folder() / app.MODULES)
    return Modules({name: content + b"\n// later\n" for name, content in modules.files.items()})


def test_a_server_of_another_version_makes_the_page_load_anew_once_nobody_writes(
    browser: webdriver.Chrome, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server that is started again with the same modules does not; with others it does, after the form is closed."""
    plan = live_plan()
    first = LiveServer(live_app(plan)).start()
    board = Board(browser, first.url)
    board.open()
    before = browser.execute_script(LOADED)
    browser.execute_script(WATCH)
    boot = "return modules.moment.message().boot"
    started = browser.execute_script(boot)
    first.stop()
    with LiveServer(live_app(plan), first.port):
        until(lambda: browser.execute_script(boot) != started, "the server that was started again")
        started = browser.execute_script(boot)
        until(lambda: "renewal.js 200" in browser.execute_script("return window.answers"), "the page asking for its version")
        board.press("log-enter")
    monkeypatch.setattr(app, "read_modules", renewed)
    with LiveServer(live_app(plan), first.port):
        until(lambda: browser.execute_script(boot) != started, "the server of another version")
        until(lambda: "renewal.js 404" in browser.execute_script("return window.answers"), "the page noticing it")
        assert browser.execute_script("return window.isSamePage") is True
        assert browser.execute_script("return document.getElementById('entry-form').open") is True
        board.press("entry-cancel")
        until(lambda: browser.execute_script("return !window.isSamePage && document.body.dataset.drawn"), "the page loading anew")
        assert browser.execute_script(LOADED) != before
    browser.get("about:blank")
    browser.get_log("browser")


def test_a_page_whose_modules_the_server_has_no_more_is_loaded_once_more(browser: webdriver.Chrome) -> None:
    """The server was renewed between the page and its modules."""
    restarted = Restarted(live_app(live_plan()))
    with LiveServer(restarted) as live:
        Board(browser, live.url).open()
        assert restarted.pages == 2
        browser.get("about:blank")
    browser.get_log("browser")
