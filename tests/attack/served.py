"""A server under attack in a process of its own: the command `tetherline serve` on loopback, with a store in a file."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import httpx

from tests.attack.judging import Answer
from tests.attack.sortie import log
from tests.local import LOCAL

PATIENCE_S = 120.0


class Served:
    """A server on the plan in `plan_file`; `restart` kills it without warning.

    Parameters
    ----------
    plan_file : Path
    store : Path
        The file of the store.
    """

    def __init__(self, plan_file: Path, store: Path) -> None:
        self._command = [
            sys.executable, "-m", "dashboard.cli", "serve", str(plan_file), "--store", f"sqlite:///{store}", "--port", "0",
            "--no-browser",
        ]  # fmt: skip
        self._http = httpx.Client(**LOCAL, timeout=PATIENCE_S)
        self._start()

    def begin(self, zero: Any) -> None:
        """Send the log up to the attack."""
        self._http.post(f"{self._url}/api/events", json=log(zero)).raise_for_status()

    def post(self, body: bytes) -> Answer:
        """Send events."""
        return _answer(self._http.post(f"{self._url}/api/events", content=body))

    def state(self) -> Answer:
        """The newest state."""
        return _answer(self._http.get(f"{self._url}/api/state"))

    def rows(self) -> list[dict[str, Any]]:
        """Every row of the log."""
        rows: list[dict[str, Any]] = self._http.get(f"{self._url}/api/events").json()
        return rows

    def restart(self) -> None:
        """Kill the server, and start it on the same store."""
        self._end()
        self._start()

    def close(self) -> None:
        """End the server."""
        self._end()
        self._http.close()

    def _start(self) -> None:
        self._process = subprocess.Popen(self._command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        assert self._process.stdout is not None
        found = next((found for line in self._process.stdout if (found := re.search(r"http://\S+", line))), None)
        if found is None:
            raise RuntimeError("the server did not start")
        self._url = found.group()
        until_s = time.monotonic() + PATIENCE_S
        while self.state().status != 200 and time.monotonic() < until_s:
            time.sleep(0.05)

    def _end(self) -> None:
        self._process.kill()
        self._process.communicate()


def _answer(response: httpx.Response) -> Answer:
    return Answer(response.status_code, response.json())
