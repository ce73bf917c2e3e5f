"""Follows a growing file of JSON Lines or CSV, through rotation, truncation and unfinished lines.

Rules of this file
------------------
1. The file is read from its beginning at each start of the server. Entries recorded before are recognised by their ids.
2. A line counts once it ends with a line feed. A JSON object without one counts once the file has not grown for `AT_REST_S`,
   since a complete object cannot grow.
3. Rotation: when another file has the name, the old file is read to its end, then the new one from its beginning.
4. Rotation while no server ran: files in the same folder with the name and a number or date added (`NAME.1`,
   `NAME-20310412`), changed since the store received its last event, are read first, the oldest first.
5. Truncation: when the file is shorter than before, or the bytes last read have changed, it is read from its beginning.
6. A file that does not exist, cannot be read, or is not text is tried again.
"""

from __future__ import annotations

import glob
import io
import os
import re
import stat
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dashboard.core.events.kinds import UnreadableEvent
from dashboard.log.eventtext import table_of_text
from dashboard.log.logfile import line_text
from dashboard.log.textfile import SNIFFED_BYTES, UTF16_MARKS
from dashboard.service.feeds.entries import Entry, Reader
from dashboard.service.feeds.feed import Feed
from dashboard.service.feeds.lines import Lines
from dashboard.service.feeds.status import Status

POLL_S = 0.2
AT_REST_S = 2.0
PIECE_BYTES = 262_144
COMPARED_BYTES = 256
SOME_TIME = timedelta(minutes=1)  # by which the clocks of a disk and of a database may differ
ROTATED = re.compile(r"[-.][\dT:._-]+")
CURE = "Check that its writer still runs and writes to this file."


class FileFeed(Feed):
    """One file that grows.

    Parameters
    ----------
    path : Path
        The file; it need not exist yet.
    name : str
        Name of the feed on screens and in the log.
    at_rest_s : float
        How long the file must not have grown before an unfinished line is read, in seconds.
    """

    def __init__(self, path: Path, name: str, *, at_rest_s: float = AT_REST_S) -> None:
        super().__init__(Status(name, CURE))
        self._path = path
        self._at_rest_s = at_rest_s
        self._reader = Reader(name, str(path.resolve()), csv=True if path.suffix.lower() == ".csv" else None)
        self._lines = Lines()
        self._last = b""  # the bytes last read, to notice when the file was rewritten

    def follow(self) -> None:
        while not self.is_stopped():
            try:
                opened = self._path.open("rb", buffering=0)  # opened first, so that a rotation meanwhile loses nothing
            except OSError:
                if self._catch_up():
                    raise
                return
            with opened as file:
                if not self._catch_up():
                    return
                self.connected()
                self._begin()
                if not self._to_its_end(file):
                    return

    def _to_its_end(self, file: io.FileIO) -> bool:
        """Read a file as it grows until it is replaced; False: the feed was stopped."""
        quiet_since = time.monotonic()
        replaced = False
        while True:
            if self._was_cut(file):
                if not self._settle():
                    return False
                file.seek(0)
                self._begin()
            if data := file.read(PIECE_BYTES):
                if file.tell() == len(data):
                    _refuse_binary(data)
                quiet_since = time.monotonic()
                self._last = (self._last + data)[-COMPARED_BYTES:]
                if not self._take_in(self._reader.entries(self._lines.add(data)), file):
                    return False
                continue
            if replaced:
                return self._settle()
            if time.monotonic() - quiet_since >= self._at_rest_s and not self._look_at_rest(file):
                return False
            if not self.rest(POLL_S):
                return False
            replaced = self._is_replaced(file)  # the old file is read once more: it may have grown before the rotation

    def _catch_up(self) -> bool:
        """Read the files that were rotated while no server ran; False: the feed was stopped."""
        since, self._since = self._since, None
        for path in [] if since is None else _rotated(self._path, since - SOME_TIME):
            with path.open("rb", buffering=0) as file:
                self._begin()
                _refuse_binary(file.read(SNIFFED_BYTES))
                file.seek(0)
                while data := file.read(PIECE_BYTES):
                    if not self.hand_over(self._reader.entries(self._lines.add(data))):
                        return False
                if not self._settle():
                    return False
        return True

    def _begin(self) -> None:
        self._lines, self._last = Lines(), b""
        self._reader.begin()

    def _is_replaced(self, file: io.FileIO) -> bool:
        """Whether another file has the name. When no file has it, the old one may still grow."""
        try:
            there = os.stat(self._path)
        except FileNotFoundError:
            self.status.in_trouble("lost", f"the file {self._path.name} no longer exists. All of its content was read.")
            return False
        if not os.path.samestat(there, os.fstat(file.fileno())):
            return True
        self.connected()
        return False

    def _was_cut(self, file: io.FileIO) -> bool:
        """Whether the file was truncated or rewritten since it was read."""
        at = file.tell()
        if os.fstat(file.fileno()).st_size < at:
            return True
        file.seek(at - len(self._last))
        return file.read(len(self._last)) != self._last

    def _take_in(self, entries: list[Entry], file: io.FileIO) -> bool:
        if entries:
            self.status.heard(datetime.fromtimestamp(os.fstat(file.fileno()).st_mtime, UTC))
        return self.hand_over(entries)

    def _look_at_rest(self, file: io.FileIO) -> bool:
        """Take a complete JSON object without a line end, and a row whose quote was not closed."""
        entries = self._reader.settle()
        if _is_whole(self._lines.part) and (line := self._lines.take_part()) is not None:
            entries += self._reader.entries([line])
        return self._take_in(entries, file)

    def _settle(self) -> bool:
        """Take the rest of a file that ends here."""
        line = self._lines.take_part()
        entries = [] if line is None else self._reader.entries([line])
        return self.hand_over([*entries, *self._reader.settle()])


def _rotated(path: Path, since: datetime) -> list[Path]:
    """Files in the same folder to which a file was rotated, changed after `since`; the oldest first."""
    found = []
    for other in path.parent.glob(f"{glob.escape(path.name)}[-.]*"):
        try:
            seen = other.stat()
        except OSError:
            continue
        named = ROTATED.fullmatch(other.name[len(path.name) :])
        if named and stat.S_ISREG(seen.st_mode) and datetime.fromtimestamp(seen.st_mtime, UTC) > since:
            found.append((seen.st_mtime, other))
    return [other for _, other in sorted(found)]


def _refuse_binary(data: bytes) -> None:
    """Raise OSError when the beginning of a file is not UTF-8 text."""
    if data.startswith(UTF16_MARKS):
        raise OSError("it holds text in UTF-16. Let its writer write UTF-8")
    if (at := data[:SNIFFED_BYTES].find(b"\0")) >= 0:
        raise OSError(f"it is a binary file (a NUL byte at byte {at}). Name a text file")


def _is_whole(part: bytes) -> bool:
    """Whether the beginning of a line is already a complete JSON object."""
    if not part.rstrip().endswith(b"}"):
        return False
    try:
        table_of_text(line_text(part))
    except UnreadableEvent:
        return False
    return True
