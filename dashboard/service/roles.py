"""Who may do what: watch (read), log (enter what happened) and lead (decide as well).

Rules of this file
------------------
1. A role is shown by a key that was given to a person. A role that has no key of its own is open to everyone who may do
   the less: with no keys at all everyone is lead; with a lead key alone everyone may log; with a log key alone whoever
   has it is lead.
2. What `Event.needs_lead` says of its kind needs lead, everything else that is entered needs log, and so does moving the
   clock of a replay, which is one for all. Reading needs nothing.
3. Correcting an event needs what entering it needs. An answer to an event that is not there yet needs lead; in one
   request an event stands before its answer. What is refused or not recorded grants nothing.
4. Keys are compared in constant time, and kept as digests only.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Mapping
from typing import Any, Literal

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.answers import Answer
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS

Role = Literal["watch", "log", "lead"]
ROLES: tuple[Role, ...] = ("watch", "log", "lead")
LEAD_KINDS = frozenset(kind for kind, event in KINDS.items() if event.needs_lead)
ANSWERS = tuple(kind for kind, event in KINDS.items() if issubclass(event, Answer))
WITH_KEY = "with ?key= and"
HOW = "open the board with ?key= and that key after its address, or send it as Authorization: Bearer"


class Keys:
    """The keys of a server.

    Parameters
    ----------
    log, lead : str or None
        None: the role has no key of its own.

    Raises
    ------
    InputError
        When a key cannot stand in an address or a header, or both are the same.
    """

    def __init__(self, log: str | None = None, lead: str | None = None) -> None:
        for name, key in (("log", log), ("lead", lead)):
            if key is not None and not (key and key.isascii() and key.isprintable() and " " not in key):
                found = "an empty one" if not key else "one with spaces or other characters"
                cure = "Use letters, digits and signs without spaces; long and not guessed easily."
                raise InputError([Problem(f"the {name} key", "printable ASCII characters", found, cure)])
        if log is not None and log == lead:
            cure = "Give each role a key of its own."
            raise InputError([Problem("the lead key", "a key other than the log key", "the same", cure)])
        self._log = None if log is None else token_of(log)
        self._lead = None if lead is None else token_of(lead)

    @property
    def any(self) -> bool:
        """Whether there is any key at all."""
        return self._log is not None or self._lead is not None

    def in_words(self, others: bool) -> str:
        """Who may do what, as the server says when it starts.

        Parameters
        ----------
        others : bool
            Whether other computers are served.
        """
        if not self.any:
            reach = "Everyone who can reach it" if others else "Everyone on this computer"
            cure = " Give --log-key and --lead-key to change that." if others else ""
            return f"{reach} is lead: may enter events and record decisions.{cure}"
        log = "everyone" if self._log is None else f"whoever opens the board {WITH_KEY} the log key"
        lead = "the log key" if self._lead is None else "the lead key"
        return f"Reading is open to everyone; events are entered by {log}; decisions need {lead}."

    def role_of(self, token: str | None) -> Role:
        """The role of whoever shows this token (`token_of` a key); None: nothing was shown."""
        if not self.any or _same(token, self._lead):
            return "lead"
        if self._log is None:
            return "log"
        if _same(token, self._log):
            return "lead" if self._lead is None else "log"
        return "watch"

    def known(self, token: str) -> bool:
        """Whether the token is that of a key."""
        return _same(token, self._lead) or _same(token, self._log)


def token_of(key: str) -> str:
    """What stands for a key in a cookie and in memory: its SHA-256 digest."""
    return hashlib.sha256(f"tetherline:{key}".encode("utf-8", "surrogateescape")).hexdigest()


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


def refusal(item: Any, role: Role, needed: Role) -> dict[str, Any]:
    """The outcome of an item that its sender may not enter."""
    kind = item.get("kind") if isinstance(item, dict) else None
    what = f"'{kind}'" if isinstance(kind, str) else "an event"
    if isinstance(kind, str) and kind in ANSWERS and needed == "lead":
        what = f"'{kind}' of a decision, or of an event that is not there yet,"
    return refused(item, f"{what} needs the {needed} key, and you are here to {role}; {HOW}.")


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


def _same(token: str | None, other: str | None) -> bool:
    if token is None or other is None:
        return False
    return hmac.compare_digest(token.encode("utf-8", "surrogateescape"), other.encode())
