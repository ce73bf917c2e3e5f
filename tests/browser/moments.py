"""Sixteen moments of an invented sortie, for someone who looks at the board for five seconds without knowing the moment.

All are live: PET zero lies as far back as the moment says. Events come from the recorded run that comes with the program, or
from its plan carried out faster or slower than briefed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from typing import Any

from dashboard.core.base.times import instant_text, minutes_between, parse_instant
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Duration, Plan
from dashboard.core.state.follow import follow
from dashboard.log.store import EventStore, Quarantined
from dashboard.service.trial.sieve import in_quarantine
from replay.recording import RecordedRun, load_run, packaged_scenarios

DECIDES = ("decision", "choose", "defer", "trim")
READ_EVERY_MIN = 30
# Share of each consumable above its reserve that an hour takes; the water of a suit that runs hot goes faster.
TAKEN_PER_H = {"oxygen": 0.115, "co2": 0.115, "battery": 0.11, "water": 0.115}


@dataclass(frozen=True)
class Logged:
    """An event as the room got it.

    Parameters
    ----------
    pet_min : float
        When it happened.
    received_pet_min : float
        When it came in.
    body : dict
        Its fields without times; of an amendment that changes a time, `to_pet_min` is the new time.
    """

    pet_min: float
    received_pet_min: float
    body: dict[str, Any]

    def from_zero(self, zero: datetime) -> dict[str, Any]:
        """The event of a sortie with this PET zero."""
        body = dict(self.body)
        to_pet_min = body.pop("to_pet_min", None)
        if to_pet_min is not None:
            body["changes"] = {**body.get("changes", {}), "at": instant_text(zero + timedelta(minutes=to_pet_min))}
        return {**body, "at": instant_text(zero + timedelta(minutes=self.pet_min))}


@dataclass(frozen=True)
class Moment:
    """A moment of the sortie.

    Parameters
    ----------
    name : str
    pet_min : float
        PET now.
    log : tuple of Logged
        What came in by then.
    quarantined : str
        The note that is kept in quarantine; empty: there is none.
    is_cut_off : bool
        Whether the server does not answer any more.
    is_twice : bool
        Whether two boards stand side by side.
    """

    name: str
    pet_min: float
    log: tuple[Logged, ...]
    quarantined: str = ""
    is_cut_off: bool = False
    is_twice: bool = False

    def plan(self, now: datetime) -> Plan:
        """The plan, its PET zero as far back as the moment says."""
        sortie = run().plan.sortie.model_copy(update={"start": self.zero(now)})
        return run().plan.model_copy(update={"sortie": sortie})

    def zero(self, now: datetime) -> datetime:
        """PET zero."""
        return now.replace(microsecond=0) - timedelta(minutes=self.pet_min)

    def events(self, now: datetime) -> list[Any]:
        """The events, parsed."""
        zero, found = self.zero(now), []
        for seq, one in enumerate(self.log, 1):
            received = instant_text(_at(zero, one.received_pet_min))
            found.append(parse_event({"id": f"e{seq}", "seq": seq, "received": received, **one.from_zero(zero)}))
        return found

    def store(self, now: datetime) -> EventStore:
        """A store in memory that holds the log."""
        zero, plan = self.zero(now), self.plan(now)
        store = EventStore("sqlite://", plan.sortie.id)
        for number, one in enumerate(self.log):
            store.append([{"id": f"e{number}", **one.from_zero(zero)}], _at(zero, one.received_pet_min))
        if self.quarantined:
            note = {"id": "q1", "at": instant_text(now), "kind": "note", "text": self.quarantined}
            store.append([Quarantined(note, in_quarantine("it kept the computation busy for more than 20 s"))], now)
        return store


def _at(zero: datetime, pet_min: float) -> datetime:
    return zero + timedelta(minutes=pet_min)


@cache
def run() -> RecordedRun:
    """The recorded run that comes with the program."""
    return load_run(packaged_scenarios()["lantern-2"])


def recorded(until: float, *, without: Iterable[str] = ()) -> tuple[Logged, ...]:
    """What the recorded run had received by a PET, without some kinds of event."""
    found, zero = [], run().pet_zero
    for event in run().events:
        body = event.model_dump(mode="json", exclude_unset=True, exclude={"at", "received", "seq"})
        if (to := body.get("changes", {}).pop("at", None)) is not None:
            body["to_pet_min"] = minutes_between(zero, parse_instant(to))
        one = Logged(minutes_between(zero, event.at), minutes_between(zero, event.came_in), body)
        if one.received_pet_min <= until and event.kind not in without:
            found.append(one)
    return tuple(found)


def worked(until: float, pace: float, *, also: Iterable[tuple[float, dict[str, Any]]] = (), hot: str = "") -> tuple[Logged, ...]:
    """The plan carried out to a PET, each task taking `pace` times its likely length; readings as expected, but in a hot suit."""
    plan = run().plan
    tasks = [one.model_copy(update={"duration": _exact(one.duration, pace)}) for one in plan.tasks]
    zero = plan.sortie.start
    begun = parse_event({"id": "z", "kind": "clock", "at": instant_text(zero)})
    state = follow(plan.model_copy(update={"tasks": tasks}), [begun], zero)
    said: list[tuple[float, dict[str, Any]]] = [(0.0, {"kind": "clock"}), *also]
    for name, task in state.tasks.items():
        begin, end = task.projected_start_pet_min, task.projected_finish_pet_min
        if task.in_plan and not task.get_ahead and begin is not None and end is not None:
            said += [(begin, {"kind": "start", "task": name}), (end, {"kind": "done", "task": name})]
    for minute in range(0, int(until) + 1, READ_EVERY_MIN):
        for suit in plan.suits:
            said.append((minute + 2.0, {"kind": "reading", "suit": suit.id, **_left(suit, minute / 60, suit.id == hot)}))
    return tuple(
        Logged(pet, pet + 0.2, {**body, "by": "log"}) for pet, body in sorted(said, key=lambda one: one[0]) if pet + 0.2 <= until
    )


def _exact(duration: Duration, pace: float) -> Duration:
    return Duration.model_validate([round(duration.likely * pace, 1)] * 3)


def _left(suit: Any, hours: float, is_hot: bool) -> dict[str, float]:
    left = {}
    for name, per_h in TAKEN_PER_H.items():
        supply = getattr(suit, name)
        taken = per_h * hours * (1.5 if is_hot and name == "water" else 1.0)
        left[name] = round(supply.loaded - (supply.loaded - supply.reserve) * taken, 3)
    return left


def _held(until: float) -> tuple[Logged, ...]:
    """Both crew members are on hold since PET 1:50."""
    reason = "Room asks for a stop: a tether hook reads open on the camera"
    stopped = worked(until, 1.0, also=[(110.0, {"kind": "hold", "all": True, "reason": reason})])
    return tuple(one for one in stopped if one.pet_min <= 110.0 or one.body["kind"] == "reading")


def _before() -> tuple[Logged, ...]:
    return (Logged(-20.0, -20.0, {"kind": "note", "text": "Both suits leak-checked, crew in the airlock.", "by": "log"}),)


def _ended() -> tuple[Logged, ...]:
    return worked(385.0, 0.98, also=[(382.0, {"kind": "end"})])


MOMENTS: dict[str, Callable[[], Moment]] = {
    "nominal": lambda: Moment("nominal", 150.0, worked(149.0, 1.0)),
    "ahead": lambda: Moment("ahead", 200.0, worked(199.0, 0.95)),
    "behind": lambda: Moment("behind", 165.0, worked(164.0, 1.2)),
    "short of water": lambda: Moment("short of water", 200.0, worked(199.0, 1.0, hot="B")),
    "on hold": lambda: Moment("on hold", 122.0, _held(121.0)),
    "contingency": lambda: Moment("contingency", 226.0, recorded(226.0)),
    "stale": lambda: Moment("stale", 170.0, worked(138.0, 1.03)),
    "expect": lambda: Moment("expect", 250.0, recorded(250.0)),
    "decide": lambda: Moment("decide", 269.0, recorded(268.9, without=DECIDES)),
    "just decided": lambda: Moment("just decided", 258.0, recorded(257.9)),
    "window missed": lambda: Moment("window missed", 232.0, worked(231.0, 1.25)),
    "before start": lambda: Moment("before start", -15.0, _before()),
    "ended": lambda: Moment("ended", 382.5, _ended()),
    "server gone": lambda: Moment("server gone", 165.0, worked(164.0, 1.2), is_cut_off=True),
    "quarantine": lambda: Moment("quarantine", 150.0, worked(149.0, 1.03), quarantined="Loop 2 is hard to hear."),
    "two boards": lambda: Moment("two boards", 226.0, recorded(226.0), is_twice=True),
}
