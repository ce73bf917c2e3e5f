"""The pure modules alone, in the real browser: an empty page, and no server of the program."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest
from selenium import webdriver

from tests.browser.modules import ASSETS, PURE, expose

Run = Callable[..., Any]
PAGE = b"<!DOCTYPE html><html lang='en'><head><title>Modules</title><link rel='icon' href='data:,'></head><body></body></html>"
# The script is the body of an async function; what goes wrong in it is the test's failure.
IN_THE_PAGE = """
const given = Array.from(arguments), done = given.pop(), body = given.shift();
const script = new (Object.getPrototypeOf(async function () {}).constructor)("given", body);
script(given).then((result) => done({ result: result === undefined ? null : result }), (wrong) => done({ wrong: String(wrong) }));
"""


class Files(SimpleHTTPRequestHandler):
    """The folder of the modules, and an empty page."""

    def do_GET(self) -> None:
        """Answer a request."""
        if self.path != "/":
            super().do_GET()
            return
        self.send_response(200)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(PAGE)))
        self.end_headers()
        self.wfile.write(PAGE)

    def log_message(self, format: str, *arguments: Any) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def run(browser: webdriver.Chrome) -> Iterator[Run]:
    """Run the body of an async function in the page, with the pure modules as `modules` and what follows as `given`."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Files, directory=str(ASSETS)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    address = f"http://127.0.0.1:{server.server_port}/"
    browser.get(address)
    expose(browser, address, PURE)

    def in_the_page(script: str, *given: Any) -> Any:
        answer = browser.execute_async_script(IN_THE_PAGE, script, *given)
        assert "wrong" not in answer, answer
        return answer["result"]

    yield in_the_page
    server.shutdown()
    server.server_close()
    thread.join(10)
