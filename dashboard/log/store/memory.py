"""Rows in memory: the store of a demo, gone when closed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from dashboard.log.store.rows import Judge, Row, checked_mark


class MemoryRows:
    """Rows in a list."""

    def __init__(self, where: str) -> None:
        self.where = where
        self._about: dict[str, str] = {}
        self._rows: list[Row] = []

    def open(self, wanted: Mapping[str, str]) -> str:
        """Mark it."""
        self._about |= checked_mark(self.where, self._about, wanted)
        return "in memory only: gone when the server stops"

    def about(self) -> dict[str, str]:
        """What it is marked with."""
        return dict(self._about)

    def after(self, last: Row | None) -> list[Row]:
        """The rows after `last`."""
        return self._rows[last.seq if last is not None else 0:]

    def add(self, last: Row | None, judge: Judge) -> list[Row]:
        """Add what `judge` makes of the rows after `last`."""
        rows = judge(self.after(last))
        self._rows += rows
        return rows

    def watch(self, heard: Callable[[int | None], None]) -> None:
        """Nobody else can add to it."""

    def clock(self) -> datetime | None:
        """It has none."""
        return None

    def close(self) -> None:
        """Nothing to let go of."""
