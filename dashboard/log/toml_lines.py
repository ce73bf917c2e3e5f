"""Line numbers of the tables, keys and list entries of a TOML text that is already known to be valid.

The standard reader gives values without lines. This scanner gives lines without values. It follows headers, dotted keys,
strings of all four kinds, lists and inline tables, and nothing else.
"""

from __future__ import annotations

import re
from bisect import bisect_right

Place = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRINGS = (
    re.compile(r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}', re.DOTALL),
    re.compile(r"'''(?:[^']|'(?!''))*'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)
_SCALAR = re.compile(r"[^,\]}\n#]+")
_ESCAPE = re.compile(r"\\(u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|.)")
_ESCAPED = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


def line_numbers(text: str) -> dict[Place, int]:
    """Find the line of every table, key and list entry of a TOML text.

    Parameters
    ----------
    text
        Valid TOML.

    Returns
    -------
    dict
        Line, from 1, by place. A place is a tuple of keys and indexes, and the entries of an array of tables are numbered from 0:
        ``("task", 3)`` is the header of the fourth ``[[task]]``, ``("task", 3, "lanes", 1)`` its second lane.
    """
    return _Scanner(text.replace("\r\n", "\n")).scan()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.breaks = [match.start() for match in re.finditer("\n", text)]
        self.lines: dict[Place, int] = {}
        self.count: dict[Place, int] = {}

    def scan(self) -> dict[Place, int]:
        table: Place = ()
        self._blank()
        while self.at < len(self.text):
            if self._peek("["):
                table = self._header()
            else:
                self._key_and_value(table)
            self._blank()
        return self.lines

    def _header(self) -> Place:
        line = self._line()
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        table = self._resolve(self._key(), line)
        self.at += 2 if many else 1
        if many:
            self.count[table] = self.count.get(table, -1) + 1
            table = (*table, self.count[table])
        self.lines.setdefault(table, line)
        return table

    def _resolve(self, names: list[str], line: int) -> Place:
        """The place of a header. A name of an array of tables within it means the latest entry of that array."""
        place: Place = ()
        for position, name in enumerate(names):
            place = (*place, name)
            self.lines.setdefault(place, line)
            if place in self.count and position < len(names) - 1:
                place = (*place, self.count[place])
        return place

    def _key_and_value(self, table: Place) -> None:
        line = self._line()
        place = table
        for name in self._key():
            place = (*place, name)
            self.lines.setdefault(place, line)
        self.at += 1  # the equals sign
        self._space()
        self._value(place)

    def _key(self) -> list[str]:
        names = []
        while True:
            self._space()
            if self.text[self.at] in "\"'":
                names.append(_unquoted(self._string()))
            else:
                match = _BARE_KEY.match(self.text, self.at)
                assert match is not None, "valid TOML has a key here"
                self.at = match.end()
                names.append(match[0])
            self._space()
            if not self._peek("."):
                return names
            self.at += 1

    def _value(self, place: Place) -> None:
        if self._peek("["):
            self._list(place)
        elif self._peek("{"):
            self._inline_table(place)
        elif self.text[self.at] in "\"'":
            self._string()
        elif match := _SCALAR.match(self.text, self.at):
            self.at = match.end()

    def _list(self, place: Place) -> None:
        self.at += 1
        self._blank()
        index = 0
        while not self._peek("]"):
            here = (*place, index)
            self.lines.setdefault(here, self._line())
            self._value(here)
            index += 1
            self._comma()
        self.at += 1

    def _inline_table(self, place: Place) -> None:
        self.at += 1
        self._blank()
        while not self._peek("}"):
            self._key_and_value(place)
            self._comma()
        self.at += 1

    def _comma(self) -> None:
        self._blank()
        if self._peek(","):
            self.at += 1
            self._blank()

    def _string(self) -> str:
        for pattern in _STRINGS:
            if match := pattern.match(self.text, self.at):
                self.at = match.end()
                return match[0]
        raise AssertionError("valid TOML closes its strings")

    def _peek(self, mark: str) -> bool:
        return self.text.startswith(mark, self.at)

    def _blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        assert match is not None
        self.at = match.end()

    def _space(self) -> None:
        match = _SPACE.match(self.text, self.at)
        assert match is not None
        self.at = match.end()

    def _line(self) -> int:
        return bisect_right(self.breaks, self.at - 1) + 1


def _unquoted(text: str) -> str:
    if text[0] == "'":
        return text[1:-1]
    return _ESCAPE.sub(_unescaped, text[1:-1])


def _unescaped(match: re.Match[str]) -> str:
    body = match[1]
    return chr(int(body[1:], 16)) if body[0] in "uU" and len(body) > 1 else _ESCAPED.get(body, body)
