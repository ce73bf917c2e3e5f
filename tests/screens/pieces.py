"""What a reader sees of a piece of HTML, and short states to make pieces of."""

from __future__ import annotations

from html.parser import HTMLParser

from dashboard.core.plan.model import Plan
from tests.scenario import SORTIE, lanes, plan_of, suit, task

PLAN = (
    task("T010", "EV1 EV2", 0, 30, title="Leave the airlock")
    + task("T020", "EV1", 30, 45, title="Release the bolts", worksite="mast", value=1.0)
    + task("T030", "EV2", 30, 40, title="Tool count", after=["T010"])
    + task("T040", "ARM", 0, 40, title="Fetch the tray")
    + '[[worksite]]\nid = "mast"\nreturn = 12\n'
)
SUITED = (
    f"[sortie]\n{SORTIE}\n"
    + lanes({"EV1": "A", "EV2": None}, ("ARM", "arm"))
    + suit("A", water={"loaded": 3.6, "reserve": 0.3})
    + PLAN
)


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


def plain_plan() -> Plan:
    """Three lanes, four tasks, no suit."""
    return plan_of(PLAN)


def suited_plan() -> Plan:
    """The same; EV1 wears suit A with its water."""
    return plan_of(SUITED)
