"""Short plans and logs written inside a test, in the words of the trade.

A plan is TOML without its ``[sortie]`` and lanes, unless it gives them. A log line is
``PET kind subject key=value ...``, for instance ``0:45 hold T010 reason=leak`` or ``0:50 estimate T010 remaining=12``.
The lines stand in the order in which they were entered.
"""

from __future__ import annotations

import json
import tomllib
from typing import Any

from dashboard.core.base.times import instant_text, parse_instant, parse_minutes, plus_minutes
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS, parse_event
from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState

PET_ZERO = parse_instant("2031-04-12T09:10:00Z")
SORTIE = 'id = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = "7:00"\nreserve = 30\n'
LANES = "".join(
    f'[[lane]]\nid = "{name}"\nkind = "{kind}"\n' for name, kind in (("EV1", "crew"), ("EV2", "crew"), ("ARM", "arm"))
)


def plan_of(text: str) -> Plan:
    """A plan from the tables that matter to a test."""
    whole = text if "[sortie]" in text else f"[sortie]\n{SORTIE}\n{LANES}\n{text}"
    return Plan.model_validate(tomllib.loads(whole))


def task(name: str, lanes: str, start: float | str | None, minutes: object, **more: object) -> str:
    """One ``[[task]]`` table."""
    lines = [f'[[task]]\nid = "{name}"', f"lanes = {json.dumps(lanes.split())}", f"duration = {json.dumps(minutes)}"]
    if start is not None:
        lines.append(f"start = {json.dumps(start)}")
    lines += [f"{key} = {_toml(value)}" for key, value in more.items()]
    return "\n".join(lines) + "\n"


def lanes(wears: dict[str, str | None], *more: tuple[str, str]) -> str:
    """Lane tables: crew lanes with the suit that each wears (None: none), and more lanes with their kinds."""
    crew = [f'[[lane]]\nid = "{name}"\nkind = "crew"\n' + (f'suit = "{suit}"\n' if suit else "") for name, suit in wears.items()]
    return "".join([*crew, *(f'[[lane]]\nid = "{name}"\nkind = "{kind}"\n' for name, kind in more)])


TWO_IN_SUITS = lanes({"EV1": "A", "EV2": "B"})


def suit(name: str, **consumables: dict[str, float]) -> str:
    """One ``[[suit]]`` table with its consumables, for instance ``suit("A", water={"loaded": 4.0, "reserve": 0.4})``."""
    return f'[[suit]]\nid = "{name}"\n' + "".join(f"{key} = {_toml(value)}\n" for key, value in consumables.items())


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_toml(part)}" for key, part in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(part) for part in value) + "]"
    return json.dumps(value)


def log_of(text: str) -> list[Any]:
    """Events from short lines; `seq` is the place of the line."""
    return [_event(line.strip(), seq) for seq, line in enumerate(text.strip().splitlines(), start=1) if line.strip()]


def _event(line: str, seq: int) -> Any:
    pet, kind, *rest = line.split()
    raw: dict[str, Any] = {"id": f"e{seq}", "seq": seq, "at": at(pet), "kind": kind}
    for i, word in enumerate(rest):
        key, equals, value = word.partition("=")
        if not equals and i == 0:
            key, value = _subject(kind), word
        if key == "at":
            value = at(value)
        if key in ("tasks", "lanes", "defer"):
            raw[key] = value.split(",")
        elif value[:1] in "{[" or key in ("remaining", "duration", "oxygen", "water", "battery", "co2"):
            raw[key] = json.loads(value)
        else:
            raw[key] = {"true": True}.get(value, value)
    return parse_event(raw)


def _subject(kind: str) -> str:
    """The field that the first word of a line fills: the first one that a kind has of its own."""
    return next(name for name in KINDS[kind].model_fields if name not in Event.model_fields)


def at(pet: str | float) -> str:
    """The instant of a PET, as text."""
    return instant_text(plus_minutes(PET_ZERO, parse_minutes(pet)))


def follow_at(plan: Plan, log: str | list[Any], pet: str | float) -> SortieState:
    """The state at a PET."""
    events = log_of(log) if isinstance(log, str) else log
    return follow(plan, events, parse_instant(at(pet)))
