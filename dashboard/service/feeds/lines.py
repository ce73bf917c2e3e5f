"""Splits bytes that come in pieces into whole lines. The last line may still grow."""

from __future__ import annotations

from typing import NamedTuple

LONGEST_LINE_BYTES = 131_072


class Line(NamedTuple):
    """One line.

    Parameters
    ----------
    number : int
        Counted from 1.
    raw : bytes
        The line without its line end, cut off after `LONGEST_LINE_BYTES`.
    size : int
        Length in the source, in bytes; larger than that of `raw` when the line was cut off.
    """

    number: int
    raw: bytes
    size: int


class Lines:
    """Splits what is added to it into lines, and counts them from 1."""

    def __init__(self) -> None:
        self._part = bytearray()
        self._size = 0
        self._number = 1

    @property
    def part(self) -> bytes:
        """The line that has no end yet, cut off after `LONGEST_LINE_BYTES`."""
        return bytes(self._part)

    def add(self, data: bytes) -> list[Line]:
        """Add bytes of the source.

        Parameters
        ----------
        data
            The next bytes.

        Returns
        -------
        list of Line
            The lines that end within them.
        """
        *ended, begun = data.split(b"\n")
        found = []
        for piece in ended:
            self._grow(piece)
            found.append(self._taken())
            self._number += 1
        self._grow(begun)
        return found

    def take_part(self) -> Line | None:
        """The line that has no end yet, as far as it goes; the rest of it then becomes a separate line. None: it is empty."""
        return self._taken() if self._size else None

    def _grow(self, piece: bytes) -> None:
        room = LONGEST_LINE_BYTES - len(self._part)
        self._part += piece[: max(room, 0)]
        self._size += len(piece)

    def _taken(self) -> Line:
        line = Line(self._number, bytes(self._part).removesuffix(b"\r"), self._size)
        self._part, self._size = bytearray(), 0
        return line
