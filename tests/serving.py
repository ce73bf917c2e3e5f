"""Commands that serve, started as a person starts them but here: a process for each would import everything anew."""

from __future__ import annotations

import io
import logging
import re
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn

from dashboard.cli.main import main
from dashboard.service.observe.logs import OURS
from tests.waiting import DEADLINE_S, until

ADDRESS = re.compile(r"https?://\S+")


class ServingHere:
    """A command that serves, in a thread of this process, with streams of its own.

    `said` holds the lines that it printed before its address. That Ctrl-C ends it is shown with processes of their own.
    """

    def __init__(self, *arguments: str | Path) -> None:
        self._command = ["tetherline", *map(str, arguments)]
        self._out, self._err = io.StringIO(), io.StringIO()
        self._servers: list[uvicorn.Server] = []
        self._code: int | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self.said: list[str] = []

    def start(self) -> str:
        """Start it; gives its address once it is served."""
        servers = self._servers

        class Kept(uvicorn.Server):
            def __init__(self, config: uvicorn.Config) -> None:
                super().__init__(config)
                servers.append(self)

        with pytest.MonkeyPatch.context() as here:
            here.setattr(sys, "argv", self._command)
            here.setattr(sys, "stdin", io.StringIO())
            here.setattr(sys, "stdout", self._out)
            here.setattr(sys, "stderr", self._err)
            here.setattr(uvicorn, "Server", Kept)
            self._thread.start()
            until(lambda: ADDRESS.search(self._out.getvalue()) or not self._thread.is_alive(), "an address")
        lines = self._out.getvalue().splitlines(keepends=True)
        for place, line in enumerate(lines):
            if address := ADDRESS.search(line):
                self.said = lines[:place]
                return address.group()
        raise AssertionError(f"the server did not start: {self._err.getvalue()}")

    def stop(self) -> tuple[int | None, str]:
        """End it; gives the exit code, and what it wrote on standard error."""
        for server in self._servers:
            server.should_exit = True
        self._thread.join(DEADLINE_S)
        assert not self._thread.is_alive(), "the server did not stop"
        return self._code, self._err.getvalue()

    def _run(self) -> None:
        try:
            main()
            self._code = 0
        except SystemExit as ended:
            self._code = ended.code if isinstance(ended.code, int) else 1


Start = Callable[..., tuple[ServingHere, str]]


@contextmanager
def served_here() -> Iterator[Start]:
    """Starts commands that serve; gives each with its address. All are ended afterwards, and the logs are as before."""
    root, ours = logging.getLogger(), logging.getLogger(OURS)
    handlers, levels = list(root.handlers), (root.level, ours.level)
    all_of_them: list[ServingHere] = []

    def started(*arguments: str | Path) -> tuple[ServingHere, str]:
        all_of_them.append(ServingHere(*arguments))
        return all_of_them[-1], all_of_them[-1].start()

    try:
        yield started
    finally:
        for one in all_of_them:
            one.stop()
        root.handlers[:] = handlers
        root.setLevel(levels[0])
        ours.setLevel(levels[1])
