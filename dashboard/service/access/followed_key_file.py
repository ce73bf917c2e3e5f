"""A key file that is read again while the server runs. A change counts at once; a broken file changes nothing."""

from __future__ import annotations

import logging
from datetime import UTC, datetime
from pathlib import Path

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.access.key_file import KeyFile, read_key_file
from dashboard.words import how_many

LOOK_S = 1.0

log = logging.getLogger("tetherline")


class FollowedKeyFile:
    """The key file as it was last read without error.

    Parameters
    ----------
    path : Path
        The key file.

    Raises
    ------
    InputError
        When it cannot be read now.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.trouble: str | None = None
        self._good = read_key_file(path)
        self._said = ""  # what was last said of a broken file
        self._read_at = datetime.now(UTC)
        if all(entry.revoked is not None for entry in self._good.entries):
            log.warning("The key file %s holds no key that counts. Everyone has the role watch.", path)

    @property
    def now(self) -> KeyFile:
        """Its content; while it cannot be read, the content read before."""
        return self._good

    def look(self) -> None:
        """Read the file again.

        The file is small, so it is read whole: its modification time would miss two changes within one tick of the clock.
        """
        try:
            found = read_key_file(self.path)
        except InputError as wrong:
            self._cannot(wrong.problems[0])
            return
        if self.trouble is not None or found.content != self._good.content:
            counting = sum(entry.revoked is None for entry in found.entries)
            log.warning("The key file %s was read again: %s.", self.path, how_many(counting, "key counts", "keys count"))
        self.trouble, self._said, self._good, self._read_at = None, "", found, datetime.now(UTC)

    def _cannot(self, problem: Problem) -> None:
        """Tell boards where the fault is. Only the log of the server says what it is, since everyone may read a board."""
        if self._said != problem.text():
            self._said = problem.text()
            log.error("The key file cannot be read. The keys read before still count: %s", self._said)
        self.trouble = (
            f"The key file cannot be read ({Path(problem.where).name}; the log of the server says why). "
            f"The keys read at UTC {self._read_at:%H:%M:%S} still count. Keys revoked since then still work."
        )
