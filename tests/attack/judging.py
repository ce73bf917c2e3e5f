"""What must hold of a server whatever is sent to it, and the count of what was tried."""

from __future__ import annotations

import re
import time
from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple, Protocol

from tests.attack.mutants import Mutant

TAKEN = ("recorded", "already recorded")
KEPT = ("unread", "conflict", "quarantined")
STATUSES = {200, 207, 400, 403, 413, 422}
LONGEST_WHY = 2_000
_PARTICULARS = re.compile(r"'[^']*'|\"[^\"]*\"|\[.*\]|\{.*\}|-?\d[\d.e+-]*")


class Answer(NamedTuple):
    """An answer of the server: its HTTP status, and the JSON of its body."""

    status: int
    content: Any


class Target(Protocol):
    """A server under attack."""

    def post(self, body: bytes) -> Answer:
        """Send events."""

    def state(self) -> Answer:
        """The newest state; it covers everything that was acknowledged."""

    def rows(self) -> list[dict[str, Any]]:
        """Every row of the log."""

    def restart(self) -> None:
        """End the server, and start it on the same store."""


class Fault(NamedTuple):
    """Something that must not happen, and the bodies that were sent meanwhile."""

    what: str
    bodies: tuple[bytes, ...]
    how: tuple[tuple[str, ...], ...]

    def __str__(self) -> str:
        sent = "\n".join(f"    {'/'.join(how)}: {body[:600]!r}" for how, body in zip(self.how, self.bodies, strict=True))
        return f"{self.what}\n{sent}"


class Tally:
    """What was tried, and what became of it."""

    def __init__(self) -> None:
        self.tried = self.states_missed = self.lost = self.restarts = 0
        self.statuses: Counter[str] = Counter()
        self.reasons: Counter[str] = Counter()
        self.faults: list[Fault] = []
        self.slowest_s, self.slowest = 0.0, b""

    @property
    def acknowledged(self) -> int:
        """Events of which the server said that they are in the log."""
        return sum(self.statuses[status] for status in (*TAKEN, *KEPT))


class Round:
    """One attack on one log: mutants are sent, and the log and the state are judged after them.

    Parameters
    ----------
    target : Target
    tally : Tally
        What is found is added to it.
    """

    def __init__(self, target: Target, tally: Tally) -> None:
        self._target, self._tally = target, tally
        self._sent: list[Mutant] = []
        self._acknowledged: dict[int, dict[str, Any]] = {}

    def send(self, *mutants: Mutant) -> None:
        """Send mutants in one request, and judge the answer to each; a request that is no JSON is sent again one by one."""
        tally = self._tally
        body = mutants[0].body if len(mutants) == 1 else b"[" + b", ".join(one.body for one in mutants) + b"]"
        began_s = time.perf_counter()
        answer = self._target.post(body)
        took_s = time.perf_counter() - began_s
        if took_s > tally.slowest_s:
            tally.slowest_s, tally.slowest = took_s, body[:300]
        if answer.status == 400 and len(mutants) > 1:
            for one in mutants:
                self.send(one)
            return
        tally.tried += len(mutants)
        self._sent.extend(mutants)
        self._judge(mutants, answer)

    def look(self, *, restart: bool) -> None:
        """Judge the state and the log; with `restart` once more, after the server was ended and started again."""
        for turn in range(2 if restart else 1):
            if turn:
                self._target.restart()
                self._tally.restarts += 1
            state = self._target.state()
            if state.status != 200:
                self._tally.states_missed += 1
                self._fault(f"no state ({state.status}): {state.content}", self._sent)
            rows = {row["seq"]: row for row in self._target.rows()}
            for seq, outcome in self._acknowledged.items():
                if (why := _misses(outcome, rows.get(seq))) is not None:
                    self._tally.lost += 1
                    self._fault(f"acknowledged and lost: {why}", self._sent)

    def _judge(self, mutants: Sequence[Mutant], answer: Answer) -> None:
        if answer.status not in STATUSES:
            self._fault(f"HTTP {answer.status}: {answer.content}", mutants)
            return
        outcomes = answer.content.get("outcomes")
        if outcomes is None:
            self._tally.statuses["refused"] += len(mutants)
            for problem in answer.content["problems"]:
                for part in ("subject", "expected", "found", "cure"):
                    self._readable(mutants[0], problem[part])
                self._tally.reasons[f"HTTP {answer.status}, expected {_general(problem['expected'])}"] += 1
            return
        if len(mutants) > 1 and len(outcomes) != len(mutants):
            self._fault(f"{len(outcomes)} outcomes for {len(mutants)} events", mutants)
        for number, outcome in enumerate(outcomes):
            self._judge_outcome(mutants[number if len(mutants) > 1 else 0], outcome)

    def _judge_outcome(self, mutant: Mutant, outcome: dict[str, Any]) -> None:
        status = outcome["status"]
        self._tally.statuses[status] += 1
        if status not in (*TAKEN, *KEPT, "refused"):
            self._fault(f"an outcome that nobody knows: {outcome}", [mutant])
        if status in (*TAKEN, *KEPT):
            self._acknowledged[outcome["seq"]] = outcome
        if status not in TAKEN:
            why = outcome["why"] or ""
            self._readable(mutant, why)
            if why and "expected" not in why:
                self._fault(f"a reason that does not say what was expected: {why!r}", [mutant])
            self._tally.reasons[f"{status}: {_general(why)}"] += 1

    def _readable(self, mutant: Mutant, words: str) -> None:
        """A reason says something, and not at the length of the event."""
        if not words.strip() or len(words) > LONGEST_WHY:
            self._fault(f"a reason of {len(words)} characters: {words[:200]!r}", [mutant])

    def _fault(self, what: str, mutants: Sequence[Mutant]) -> None:
        self._tally.faults.append(
            Fault(what[:1000], tuple(m.body for m in mutants), tuple(m.how for m in mutants))
        )


def _misses(outcome: dict[str, Any], row: dict[str, Any] | None) -> str | None:
    """Why a row is not what was acknowledged; None: it is."""
    if row is None:
        return f"seq {outcome['seq']} ({outcome['status']}) is not in the log"
    status = outcome["status"]
    if status in TAKEN and row.get("id") != outcome["id"]:
        return f"seq {outcome['seq']} is {row.get('id')!r}, not {outcome['id']!r}"
    if status in KEPT and "line" not in row and row.get("id") != outcome["id"]:
        return f"seq {outcome['seq']} ({status}) is {row.get('id')!r}, not {outcome['id']!r}"
    return None


def _general(why: str) -> str:
    """A reason without its particulars, so that alike ones are counted together."""
    return _PARTICULARS.sub("…", why)[:90]
