"""Who may do what: watch (read), log (enter what happened) and lead (decide as well).

Rules of this file
------------------
1. A role is shown by a key (`dashboard.service.access.keys`).
2. What `Event.needs_lead` says of its kind needs lead, everything else that is entered needs log, and so does moving the
   clock of a replay, which is one for all. Reading needs nothing.
3. Correcting an event needs what entering it needs. An answer to an event that is not there yet needs lead; in one
   request an event stands before its answer. What is refused or not recorded grants nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from dashboard.core.base.times import instant_text
from dashboard.core.events.answers import Answer
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS

Role = Literal["watch", "log", "lead"]
ROLES: tuple[Role, ...] = ("watch", "log", "lead")
LEAD_KINDS = frozenset(kind for kind, event in KINDS.items() if event.needs_lead)
ANSWERS = tuple(kind for kind, event in KINDS.items() if issubclass(event, Answer))
HOW = "sign in at /sign-in, open the board with ?key= and a key after its address, or send it as Authorization: Bearer"


@dataclass(frozen=True)
class Visitor:
    """Whoever speaks to the server, and what they may do now.

    Parameters
    ----------
    role : Role
    name : str
        Of the person; empty: not known.
    key : str
        The key that was shown, in words; empty: none.
    why : str
        Why a key that was shown gives no rights; empty: it does, or none was shown.
    until : datetime or None
        When the sign-in runs out; None: nobody signed in.
    """

    role: Role
    name: str = ""
    key: str = ""
    why: str = ""
    until: datetime | None = None

    @property
    def called(self) -> str:
        """How a record of refusals names them."""
        return self.name or self.key or "no key"

    def as_dict(self) -> dict[str, Any]:
        """What a board shows of its visitor."""
        until = None if self.until is None else instant_text(self.until)
        return {"name": self.name, "said": self._said(), "until": until, "why": self._why_not()}

    def _said(self) -> str:
        """Who they are, as the band of the board shows it; empty where the server tells nobody apart."""
        if self.key and not self.why:
            return f"{self.name or self.key}, {self.role}"
        return "sign in" if self.role != "lead" else ""

    def _why_not(self) -> str:
        """Why they may not enter events; empty: they may."""
        if may(self.role, "log"):
            return ""
        if self.key and not self.why:
            return f"{self.name or self.key} is here to watch"
        return f"{self.why}: sign in to enter events" if self.why else "you are here to watch: sign in to enter events"


EVERYONE = Visitor("lead")


def may(role: Role, needed: Role) -> bool:
    """Whether a role is enough."""
    return ROLES.index(role) >= ROLES.index(needed)


class Grants:
    """What entering an answer needs: that which entering its event needs.

    Only events that are in the log, or that are recorded in the same request, say so. What is refused or not recorded
    grants nothing: its id may be that of a decision still to come.

    Parameters
    ----------
    kinds : mapping
        Event id -> kind, for every id that is taken.
    answers : mapping
        Id of an amendment or withdrawal -> id of the event that it answers.
    """

    def __init__(self, kinds: Mapping[str, str], answers: Mapping[str, str]) -> None:
        self._kinds, self._answers = dict(kinds), dict(answers)

    def needed(self, item: Any) -> Role:
        """The role that entering an item needs."""
        if not isinstance(item, dict):
            return "log"
        kind, target = item.get("kind"), item.get("event")
        seen: set[str] = set()
        while kind in ANSWERS:
            if not isinstance(target, str) or target not in self._kinds or target in seen:
                return "lead" if isinstance(target, str) else "log"
            seen.add(target)
            kind, target = self._kinds[target], self._answers.get(target)
        return "lead" if isinstance(kind, str) and kind in LEAD_KINDS else "log"

    def recorded(self, event: Event) -> None:
        """An event is recorded in this request; an id that is taken stands for its first event."""
        if event.id not in self._kinds:
            self._kinds[event.id] = event.kind
            if isinstance(event, Answer):
                self._answers[event.id] = event.event


def refusal(item: Any, visitor: Visitor, needed: Role) -> dict[str, Any]:
    """The outcome of an item that its sender may not enter."""
    kind = item.get("kind") if isinstance(item, dict) else None
    what = f"'{kind}'" if isinstance(kind, str) else "an event"
    if isinstance(kind, str) and kind in ANSWERS and needed == "lead":
        what = f"'{kind}' of a decision, or of an event that is not there yet,"
    because = f" ({visitor.why})" if visitor.why else ""
    return refused(item, f"{what} needs the {needed} key, and you are here to {visitor.role}{because}; {HOW}.")


def refused(item: Any, why: str) -> dict[str, Any]:
    """The outcome of an item that is not taken, and why."""
    claimed = item.get("id") if isinstance(item, dict) else None
    return {
        "status": "refused",
        "id": claimed if isinstance(claimed, str) else None,
        "seq": None,
        "why": f"{why[:1].upper()}{why[1:]} Nothing of it was recorded.",
        "hint": None,
        "did": None,
    }

