"""Which events count: each id once, withdrawals and amendments applied, in order.

Their order is that of `order.py`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from operator import attrgetter
from typing import Any

from dashboard.core.base.findings import Discrepancy, Unread
from dashboard.core.base.times import instant_text
from dashboard.core.events.ahead_of_now import ahead_discrepancies, dated_ahead
from dashboard.core.events.answers import Amend, Answer, Withdraw
from dashboard.core.events.event import Event
from dashboard.core.events.far_off import does_not_belong
from dashboard.core.events.kinds import UnreadableEvent, parse_event
from dashboard.core.events.names import KnownNames
from dashboard.core.plan.model import Plan
from dashboard.core.record.order import Order, sort_key


@dataclass(frozen=True)
class CountedEvents:
    """The events that count at one instant, and what became of the others.

    Parameters
    ----------
    events : list of Event
        Those that count, amended, in order.
    discrepancies : list of Discrepancy
        Answers that do not fit, and events that are dated far off the sortie.
    unread : list of Unread
        Events that name something unknown, and a second event under an id that was used.
    amended_by : dict
        Event id -> ids of the amendments that answer it.
    withdrawn_by : dict
        Event id -> id of the withdrawal in force.
    amended : dict
        Event id -> the amended event, also where it does not count yet.
    as_came : dict
        Event id -> the same events before they were amended.
    ahead : list of Event
        Those that are here and dated after now (`ahead_of_now.py`).
    left_out : list of Event
        All others, amended, in the order of the log: answers, events that were withdrawn, that are not understood, that are
        dated after now or far off.
    set_aside : frozenset of str
        Ids of the events that are dated far off.
    by_id : mapping of str to Event
        Every event of the log as it came. It may grow with the log.
    can_take_back : dict of str to bool
        Filled by whoever finds out which decisions can be taken back: that depends on the events alone.
    """

    events: list[Event]
    discrepancies: list[Discrepancy]
    unread: list[Unread]
    amended_by: dict[str, list[str]] = field(default_factory=dict)
    withdrawn_by: dict[str, str] = field(default_factory=dict)
    amended: dict[str, Event] = field(default_factory=dict)
    as_came: dict[str, Event] = field(default_factory=dict)
    ahead: list[Event] = field(default_factory=list)
    left_out: list[Event] = field(default_factory=list)
    set_aside: frozenset[str] = frozenset()
    by_id: Mapping[str, Event] = field(default_factory=dict)
    can_take_back: dict[str, bool] = field(default_factory=dict, compare=False)

    def came_at(self, event: Event) -> datetime:
        """When an event happened as it was first entered, before any amendment.

        Parameters
        ----------
        event
            One that counts, as amended or not.

        Returns
        -------
        datetime
            In UTC; its own time where it was never amended.
        """
        return self.as_came.get(event.id, event).at

    def events_at(self, at: datetime) -> list[Event]:
        """The events that count and happened at an instant as they were first entered.

        Parameters
        ----------
        at
            Aware.

        Returns
        -------
        list of Event
            As amended.
        """
        first, last = (bisect(self.events, at, key=attrgetter("at")) for bisect in (bisect_left, bisect_right))
        moved = [e for e in self.events if e.id in self.as_came] if self.as_came else []
        return [
            *(e for e in self.events[first:last] if e.id not in self.as_came), *(e for e in moved if self.came_at(e) == at)
        ]


def events_that_count(plan: Plan, events: Iterable[Event], now: datetime) -> CountedEvents:
    """The events that count at `now`.

    Parameters
    ----------
    plan
        For judging names, and which times are far off.
    events
        In any order. Events that happen after `now` do not count yet. Timed events that are dated far off the sortie never
        count (`far_off.py`).
    now
        Aware.

    Returns
    -------
    CountedEvents
        With what became of the others.
    """
    unique, unread = _first_of_each_id(events)
    known = [event for event in unique if not (isinstance(event, Answer) and event.at > now)]
    answers = {e.id: e.event for e in known if isinstance(e, Answer)}
    ids = {e.id for e in unique}
    discrepancies = [
        Discrepancy(
            event=answer, at=None, expected="the id of an event in the log", found=f"'{named}', which is not there"
        )
        for answer, named in answers.items()
        if named not in ids
    ]
    withdrawn_by = _withdrawals(known, answers, discrepancies)
    discrepancies += _of_answers_amended(known, answers, withdrawn_by)
    amended_by: dict[str, list[str]] = {}
    amends: dict[str, list[Amend]] = {}
    for e in known:
        if isinstance(e, Amend) and e.id not in withdrawn_by:
            amends.setdefault(e.event, []).append(e)
            amended_by.setdefault(e.event, []).append(e.id)
    dated = []
    amended = {}
    for e in known:
        if e.id in withdrawn_by or isinstance(e, Answer):
            continue
        body = e
        if e.id in amends:
            body = amended[e.id] = _amended(e, amends[e.id], discrepancies)
        dated.append(body)
    odd = does_not_belong(plan, dated, now)
    discrepancies += odd
    set_aside = frozenset(one.event for one in odd if one.event is not None)
    pending = [event for event in unique if isinstance(event, Answer) and event.at > now]
    ahead = dated_ahead([*(e for e in dated if e.id not in set_aside), *pending], now)
    discrepancies += ahead_discrepancies(ahead, now)
    bodies = [e for e in dated if e.at <= now and not (e.id in set_aside and e.is_timed)]
    names = KnownNames.of(plan, bodies)
    counted = []
    for e in bodies:
        why = names.unknown(e)
        if why is None:
            counted.append(e)
        else:
            unread.append(Unread(line=_as_it_came(e), why=why, where=f"event {e.id}"))
    as_came = {e.id: e for e in known if e.id in amended}
    order = Order()
    order.add(counted)
    ids_counted = {e.id for e in counted}
    return CountedEvents(
        sorted(counted, key=order.place), discrepancies, unread, amended_by, withdrawn_by, amended, as_came, ahead,
        left_out=[amended.get(e.id, e) for e in unique if e.id not in ids_counted], set_aside=set_aside,
        by_id={e.id: e for e in unique},
    )


def _first_of_each_id(events: Iterable[Event]) -> tuple[list[Event], list[Unread]]:
    ordered = sorted(events, key=sort_key)
    by_arrival = sorted(ordered, key=lambda e: e.seq if e.seq is not None else 0)
    first: dict[str, Event] = {}
    unread = []
    for e in by_arrival:
        if e.id not in first:
            first[e.id] = e
        elif _content(e) != _content(first[e.id]):
            why = f"the id '{e.id}' was used before with other content; the first stands"
            unread.append(Unread(line=_as_it_came(e), why=why, where=f"event {e.id}"))
    return [e for e in ordered if first[e.id] is e], unread


def _as_it_came(event: Event) -> str:
    return event.model_dump_json(exclude_none=True, exclude={"seq", "received"})


def _content(event: Event) -> dict[str, Any]:
    return event.model_dump(exclude={"seq", "received", "entered_by", "figures"})


def _withdrawals(known: Sequence[Event], answers: dict[str, str], discrepancies: list[Discrepancy]) -> dict[str, str]:
    """Event id -> the withdrawal in force. A withdrawn withdrawal has no effect; a ring of them has none either."""
    in_ring = in_rings((e.id for e in known if isinstance(e, Withdraw)), answers)
    for e in known:
        if e.id in in_ring:
            discrepancies.append(
                Discrepancy(event=e.id, at=e.at, expected="an answer to an earlier event",
                            found="answers that name each other in a ring; none of them counts")
            )
    withdraws: dict[str, list[Withdraw]] = {}
    for e in known:
        if isinstance(e, Withdraw) and e.id not in in_ring:
            withdraws.setdefault(e.event, []).append(e)
    decided: dict[str, str | None] = {}

    def in_force(event_id: str) -> str | None:
        trail = [event_id]
        while trail:
            current = trail[-1]
            if current in decided:
                trail.pop()
                continue
            open_ones = [w.id for w in withdraws.get(current, []) if w.id not in decided]
            if open_ones:
                trail.extend(open_ones)
                continue
            decided[current] = next((w.id for w in withdraws.get(current, []) if decided[w.id] is None), None)
            trail.pop()
        return decided[event_id]

    return {target: found for target in withdraws if (found := in_force(target)) is not None}


def _of_answers_amended(
    known: Iterable[Event], answers: Mapping[str, str], withdrawn_by: Mapping[str, str]
) -> list[Discrepancy]:
    """A discrepancy for each amendment of an answer: it changes nothing."""
    return [
        Discrepancy(
            event=e.id, at=e.at, expected="an event to amend that answers no other one",
            found=f"'{e.event}', an answer to '{answers[e.event]}'; nothing was changed: withdraw that and enter it anew",
        )
        for e in known
        if isinstance(e, Amend) and e.event in answers and e.id not in withdrawn_by
    ]


def in_rings(starts: Iterable[str], answers: Mapping[str, str]) -> set[str]:
    """The answers that lie on a ring of answers, each visited once however long the chains are.

    Parameters
    ----------
    starts
        Ids of the answers from which the chains are followed. A ring that none of them leads to is not found.
    answers
        Id of each answer -> id of the event that it answers.

    Returns
    -------
    set of str
        Ids of the answers on a ring. An answer that only leads to a ring is not among them.
    """
    found: set[str] = set()
    visited_from: dict[str, str] = {}
    for start in starts:
        path, at = [], start
        while at in answers and at not in visited_from:
            visited_from[at] = start
            path.append(at)
            at = answers[at]
        if path and visited_from.get(at) == start:
            found.update(path[path.index(at):])
    return found


def _amended(event: Event, amends: Sequence[Amend], discrepancies: list[Discrepancy]) -> Event:
    body = event
    for amend in sorted(amends, key=sort_key):
        changed = {
            key: instant_text(value) if isinstance(value, datetime) else value for key, value in amend.changed().items()
        }
        raw = {**body.model_dump(mode="json", by_alias=True, exclude_none=True), **changed}
        try:
            body = parse_event(raw)
        except UnreadableEvent as wrong:
            discrepancies.append(
                Discrepancy(event=amend.id, at=amend.at, expected=f"changes that fit the {event.kind} event {event.id}",
                            found=f"{wrong}; the amendment was not applied")
            )
    return body
