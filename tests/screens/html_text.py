"""What a reader sees of a piece of HTML: its words and the values of its attributes."""

from __future__ import annotations

from html.parser import HTMLParser


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self.attributes: dict[str, list[str]] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            self.attributes.setdefault(name, []).append(value or "")

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def said(piece: str) -> str:
    """The words of a piece, single-spaced."""
    reader = _Reader()
    reader.feed(piece)
    return " ".join(" ".join(reader.said).split())


def attribute(piece: str, name: str) -> list[str]:
    """Every value of an attribute in a piece, in order."""
    reader = _Reader()
    reader.feed(piece)
    return reader.attributes.get(name, [])
