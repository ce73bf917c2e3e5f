"""Who may do what: watch (read), log (enter what happened) and lead (decide as well).

Rules of this file
------------------
1. A key gives a role (`dashboard.service.access.keys`).
2. Kinds of event with `needs_lead` need lead; all others need log. Moving the clock of a replay needs log too, since all
   viewers share that clock. Reading needs no key.
3. Correcting an event needs the role that entering it needs. An answer to an event that is not recorded yet needs lead; in
   one request the event must stand before its answer. An event that is refused or not recorded grants nothing.
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
    """The sender of a request, and what they may do now.

    Parameters
    ----------
    role : Role
        What they may do.
    name : str
        Name of the person; empty: not known.
    key : str
        Which key was shown, in words; empty: none.
    why : str
        Why a key that was shown gives no rights; empty: it does, or none was shown.
    until : datetime or None
        When the sign-in expires (UTC); None: there is no sign-in.
    """

    role: Role
    name: str = ""
    key: str = ""
    why: str = ""
    until: datetime | None = None

    @property
    def called(self) -> str:
        """Their name in the record of refusals."""
        return self.name or self.key or "no key"

    def as_dict(self) -> dict[str, Any]:
        """Fields that a board shows about its visitor."""
        until = None if self.until is None else instant_text(self.until)
        return {"name": self.name, "said": self._said(), "until": until, "why": self._why_not()}

    def _said(self) -> str:
        """Who they are, as the band of the board shows it; empty where everyone is lead without a key."""
        if self.key and not self.why:
            return f"{self.name or self.key}, {self.role}"
        return "sign in" if self.role != "lead" else ""

    def _why_not(self) -> str:
        """Why they may not enter events; empty: they may."""
        if may(self.role, "log"):
            return ""
        if self.key and not self.why:
            return f"{self.name or self.key} may only watch"
        return f"{self.why}: sign in to enter events" if self.why else "you may only watch: sign in to enter events"


EVERYONE = Visitor("lead")


def may(role: Role, needed: Role) -> bool:
    """Whether a role includes another.

    Parameters
    ----------
    role
        The role of a visitor.
    needed
        The role that the request needs.

    Returns
    -------
    bool
        True when `role` is `needed` or above it.
    """
    return ROLES.index(role) >= ROLES.index(needed)


class Grants:
    """The role that each item of a request needs. An answer needs the role that its event needs.

    Only events in the log, or recorded earlier in the same request, are counted. An event that is refused or not recorded
    grants nothing: a later decision may have its id.

    Parameters
    ----------
    events : mapping of str to Event
        Event id -> event, for every id that is already used.
    """

    def __init__(self, events: Mapping[str, Event]) -> None:
        self._events = events
        self._recorded: dict[str, Event] = {}

    def needed(self, item: Any) -> Role:
        """The role that entering an item needs.

        Parameters
        ----------
        item
            One item of a request, not yet checked: a value decoded from JSON.

        Returns
        -------
        str
            ``log`` or ``lead``.
        """
        if not isinstance(item, dict):
            return "log"
        kind, target = item.get("kind"), item.get("event")
        seen: set[str] = set()
        while kind in ANSWERS:
            if not isinstance(target, str):
                return "log"
            found = self._events.get(target) or self._recorded.get(target)
            if found is None or target in seen:
                return "lead"
            seen.add(target)
            kind, target = found.kind, found.event if isinstance(found, Answer) else None
        return "lead" if isinstance(kind, str) and kind in LEAD_KINDS else "log"

    def recorded(self, event: Event) -> None:
        """Note an event that was recorded in this request. When its id is already used, the first event with it counts.

        Parameters
        ----------
        event
            The recorded event.
        """
        self._recorded.setdefault(event.id, event)


def refusal(item: Any, visitor: Visitor, needed: Role) -> dict[str, Any]:
    """The outcome of an item that its sender may not enter.

    Parameters
    ----------
    item
        The item, not checked: a value decoded from JSON.
    visitor
        The sender.
    needed
        The role that entering it needs.

    Returns
    -------
    dict
        As `refused` gives it, with what is needed and how to sign in.
    """
    kind = item.get("kind") if isinstance(item, dict) else None
    what = f"'{kind}'" if isinstance(kind, str) else "an event"
    if isinstance(kind, str) and kind in ANSWERS and needed == "lead":
        what = f"'{kind}' of a decision, or of an event that is not recorded yet,"
    because = f" ({visitor.why})" if visitor.why else ""
    return refused(item, f"{what} needs the {needed} key, and your role is {visitor.role}{because}; {HOW}.")


def refused(item: Any, why: str, *, forbidden: bool = True) -> dict[str, Any]:
    """The outcome of an item that is not recorded.

    Parameters
    ----------
    item
        The item, not checked: a value decoded from JSON.
    why
        The reason, a sentence; its first letter is made a capital.
    forbidden
        Whether the sender may not enter it here. If not, it may be sent again once it is corrected.

    Returns
    -------
    dict
        The fields of an outcome with status ``refused``; `id` is None when the item has no text as its id.
    """
    claimed = item.get("id") if isinstance(item, dict) else None
    return {
        "status": "refused",
        "id": claimed if isinstance(claimed, str) else None,
        "seq": None,
        "why": f"{why[:1].upper()}{why[1:]} Nothing of it was recorded.",
        "hint": None,
        "did": None,
        "forbidden": forbidden,
    }

