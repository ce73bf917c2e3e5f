"""The record of refusals: one line of JSON for each, on standard error, and in a file where one is named.

Rules of this file
------------------
1. A line says when, from which address, who (the name, else which key, else "no key"), what was refused, and why. It never
   holds a key.
2. Text from strangers is cut and escaped. It can neither begin a line nor control a terminal.
3. At most `MOST_LINES` lines are written per address and minute. One more line counts those left out. A stranger therefore
   cannot fill the disk that keeps the log of the sortie.
4. A thread of its own writes the lines. A full disk or a stopped terminal does not hold up the board.
5. The file is opened for each line, so that it may be moved away while the server runs.
"""

from __future__ import annotations

import json
import logging
import os
import queue
import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.access.attempts import network_of

log = logging.getLogger("tetherline")

MOST_LINES = 60
MINUTE_S = 60.0
MOST_ADDRESSES = 10_000
MOST_WAITING = 10_000
LONGEST_FIELD = 300


@dataclass
class _Minute:
    """Lines of one address since `began_s`."""

    began_s: float
    written: int = 0
    left_out: int = 0


class Audit:
    """Writes one line for each refusal.

    Parameters
    ----------
    path : Path or None
        The file; None: standard error alone.
    clock : callable
        Gives seconds that never go back.

    Raises
    ------
    InputError
        When the file cannot be written.
    """

    def __init__(self, path: Path | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._path, self._clock = path, clock
        self._minutes: OrderedDict[str, _Minute] = OrderedDict()
        self._counting = threading.Lock()
        self._lines: queue.Queue[str | None] = queue.Queue(MOST_WAITING)
        self._is_file_lost = False
        self._thread: threading.Thread | None = None
        if path is not None:
            try:
                _append(path, "")
            except OSError as wrong:
                cure = "Name a file in a folder that can be written."
                found = f"'{wrong.strerror}'"
                raise InputError([Problem("option --audit", "a file that can be written", found, cure, str(path))]) from None

    def refused(self, address: str, who: str, what: str, why: str) -> None:
        """Write a line for a refusal, unless the address had too many in this minute.

        Parameters
        ----------
        address : str
            From where the request came.
        who : str
            The name of the person, else which key was shown, else ``no key``.
        what : str
            What was refused, in words.
        why : str
            The reason, in words.
        """
        with self._counting:
            minute = self._minute(network_of(address))
            if minute.written >= MOST_LINES:
                minute.left_out += 1
                return
            minute.written += 1
        self._write(address=address, who=who, refused=what, why=why)

    def close(self) -> None:
        """Write the lines that wait, and the counts of those left out."""
        with self._counting:
            for network in list(self._minutes):
                self._end(network)
        if self._thread is not None:
            self._lines.put(None)
            self._thread.join(5)
            self._thread = None

    def _minute(self, network: str) -> _Minute:
        """The current minute of an address; a minute that is over is closed first."""
        minute = self._minutes.get(network)
        if minute is not None and self._clock() - minute.began_s >= MINUTE_S:
            self._end(network)
            minute = None
        if minute is None:
            while len(self._minutes) >= MOST_ADDRESSES:
                self._end(next(iter(self._minutes)))
            minute = self._minutes[network] = _Minute(self._clock())
        return minute

    def _end(self, network: str) -> None:
        minute = self._minutes.pop(network)
        if minute.left_out:
            why = f"more than {MOST_LINES} in a minute: not written one by one"
            self._write(address=network, who="", refused=f"{minute.left_out} more", why=why)

    def _write(self, **fields: str) -> None:
        line: dict[str, Any] = {"time": datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")}
        line.update({name: text if len(text) <= LONGEST_FIELD else f"{text[:LONGEST_FIELD]}..." for name, text in fields.items()})
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="audit", daemon=True)
            self._thread.start()
        try:
            self._lines.put_nowait(json.dumps(line))
        except queue.Full:  # nobody reads standard error, or the disk does not answer: the board must go on
            return

    def _work(self) -> None:
        while (line := self._lines.get()) is not None:
            _say(line)
            if self._path is None:
                continue
            try:
                _append(self._path, f"{line}\n")
                self._is_file_lost = False
            except OSError as wrong:
                if not self._is_file_lost:
                    said = "The file of refusals %s cannot be written (%s). Refusals are written to standard error only."
                    log.error(said, self._path, wrong.strerror)
                self._is_file_lost = True


def _append(path: Path, text: str) -> None:
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), "w", encoding="utf-8") as file:
        file.write(text)


def _say(line: str) -> None:
    try:
        print(line, file=sys.stderr, flush=True)
    except (OSError, ValueError):  # closed: nobody reads it
        return
