"""Remembers which sign-ins were signed out, until they would have expired.

With a folder, each of them is an empty file in it. All servers that use the folder see it at once, and so does a server that is
started later. A file is made and found by its name alone, so that servers neither wait for each other nor overwrite anything.
"""

from __future__ import annotations

import contextlib
import logging
import os
from pathlib import Path

MOST_SIGNED_OUT = 10_000  # then those that would expire first are forgotten

log = logging.getLogger("tetherline")


class SignOuts:
    """The sign-ins that were signed out.

    Parameters
    ----------
    folder : Path or None
        Made when it is needed; None: they are remembered in memory, by this server alone.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._here: dict[str, int] = {}

    def add(self, session: str, until_s: int, now_s: float) -> None:
        """Remember a sign-in that was signed out.

        Parameters
        ----------
        session
            Distinguishes the sign-in from others: letters, digits, hyphens and underscores.
        until_s
            When it would have expired, as Unix time.
        now_s
            The moment, as Unix time.
        """
        self._here = _to_keep({**self._here, session: until_s}, now_s)
        if self._folder is None:
            return
        try:
            self._folder.mkdir(mode=0o700, exist_ok=True)
            (self._folder / _name(session, until_s)).touch(mode=0o600)
            self._tidy(self._folder, now_s)
        except OSError as wrong:
            said = "The sign-out cannot be saved in %s (%s). It counts at this server only, until the server stops."
            log.warning(said, self._folder, wrong.strerror or wrong)

    def holds(self, session: str, until_s: int) -> bool:
        """Whether a sign-in was signed out.

        Parameters
        ----------
        session, until_s
            As they were given to `add`.

        Returns
        -------
        bool
            True also when another server with the same folder did it.
        """
        if session in self._here:
            return True
        return self._folder is not None and os.path.exists(self._folder / _name(session, until_s))  # never an error

    def _tidy(self, folder: Path, now_s: float) -> None:
        """Remove the files that are no longer needed. Another server may do the same at the same time."""
        found: dict[str, int] = {}
        for file in folder.iterdir():
            until, _, session = file.name.partition(".")
            if until.isdigit():
                found[session] = int(until)
        for session in found.keys() - _to_keep(found, now_s).keys():
            with contextlib.suppress(FileNotFoundError):
                (folder / _name(session, found[session])).unlink()


def _to_keep(until_s: dict[str, int], now_s: float) -> dict[str, int]:
    """Those that would not have expired yet; of too many those that would expire last."""
    left = {session: until for session, until in until_s.items() if until > now_s}
    return {session: left[session] for session in sorted(left, key=left.__getitem__)[-MOST_SIGNED_OUT:]}


def _name(session: str, until_s: int) -> str:
    return f"{until_s}.{session}"
