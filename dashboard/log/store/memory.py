"""Keeps rows in memory, for instance for a demo. They are gone when the program ends."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from dashboard.log.store.rows import Judge, Row, Rows, checked_mark


class MemoryRows(Rows):
    """Rows in a list.

    Parameters
    ----------
    where
        The address as it is shown.
    """

    def __init__(self, where: str) -> None:
        self.where = where
        self._about: dict[str, str] = {}
        self._rows: list[Row] = []

    def open(self, wanted: Mapping[str, str]) -> str:
        self._about |= checked_mark(self.where, self._about, wanted)
        return "in memory only: gone when the server stops"

    def about(self) -> dict[str, str]:
        return dict(self._about)

    def after(self, last: Row | None) -> list[Row]:
        return self._rows[last.seq if last is not None else 0:]

    def add(self, last: Row | None, judge: Judge) -> list[Row]:
        rows = judge(self.after(last))
        self._rows += rows
        return rows

    def watch(self, heard: Callable[[int | None], None]) -> None:
        return  # nobody else can add rows

    def clock(self) -> datetime | None:
        return None

    def close(self) -> None:
        return  # there is nothing to release
