"""When the room is called to decide, and when it is only told that a cut is likely.

Rules, judged at every event and at least every minute, with P the chance of being in by the limit as things stand:

1. P is at least the wanted confidence: no call.
2. Else the cheapest set that reaches the confidence is looked for. Where none does, it is the cheapest one within `NEAR_BEST` of
   the best that can be reached; if that gains less than `LEAST_GAIN`, no call, and the reason is said.
3. What of the set must be decided within the plan's `lead` minutes is for now. Something is for now: **decide**, that alone;
   unless the rest of the set is as good to within `MORE_SURE`, so that what would go now wins hardly anything; and unless it
   costs less to wait (`_wait_until`), since something else can go later and may prove needless. What goes now must
   more likely than not spare something of a higher class; where that is the first class, no chance is taken.
   Nothing of it is for now: **decide** on what begins within the lead time and is of a lower class than what the set gives up,
   where that more likely than not spares all of the higher class (`_sparing`). The set leaves it out, since it does not reach
   the confidence; but left until it has begun, it could spare nothing.
4. Else **expect**, if in at least half of the draws the cut is still needed when it must be decided; else no call.

Until `ENOUGH_TASKS` tasks of the crew or `ENOUGH_SHARE` of its briefed work are finished, or the chance has fallen by
`FALLEN_BY` below that of the brief, nothing more is known than the brief said. What the brief promised is then a finding about
the plan, said once, and no call.

A call does not come and go. It is a function of the call before it. It is lifted only with `MORE_SURE` above the confidence,
and a new call to decide is made only with `MORE_SURE` below it, or `FAR` below it where something of the first class would go;
after a decision too.
Another call takes its place when it has been due for `STEADY_MIN` minutes, and at once when the room has decided something.
A call to decide also does so at once when what it asks for must be decided within half the lead time; every other call, when
the chance is `FAR` on the other side of the confidence.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Literal, NamedTuple

import numpy as np
from pydantic import Field

from dashboard.core.base.findings import StateModel
from dashboard.core.base.minutes import clock, length
from dashboard.core.base.wording import chance_text, listed
from dashboard.core.deferral.change import closed, value_lost, with_change
from dashboard.core.deferral.items import protected
from dashboard.core.deferral.likely_then import chance_then
from dashboard.core.deferral.sense import may_not_go
from dashboard.core.deferral.still_open import is_open_in
from dashboard.core.deferral.when_to_decide import PartInTime, Times, part_of, parts_in_time
from dashboard.core.events.change import Change
from dashboard.core.plan.model import Plan
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import Expected
from dashboard.core.schedule.float_or_array import Array
from dashboard.core.schedule.pace import says_something_about_pace
from dashboard.core.schedule.plan_pace import Projection, project
from dashboard.core.suits.way_home import tasks_of_way_home

ENOUGH_TASKS = 3
ENOUGH_SHARE = 0.25
NEAR_BEST = 0.02
LEAST_GAIN = 0.05
FALLEN_BY = 0.10
MORE_SURE = 0.02
STEADY_MIN = 5.0
FAR = 0.05
LIKELY, STILL_LIKELY = 0.5, 0.4
CHANGES_NO_CALL = ("note", "check")
SAME_COST = 0.05  # of a value of 1: what is no reason to prefer one of two ways
FIRST_CLASS = 1

CallWord = Literal["none", "expect", "decide"]
CALL_WORDS: Mapping[CallWord, str] = {
    "none": "No cut is to be decided now: the chance of being in by the limit is as wanted or hardly less, or nothing that "
    "could be given up helps.",
    "expect": "A cut is likely to be needed, and nothing is lost by waiting: no decision is asked for yet.",
    "decide": "What is named is to be decided by the time that is given: waiting would close the best choice or make it dearer, "
    "or nothing that may still happen is likely to spare it.",
}


class Cheapest(NamedTuple):
    """The cheapest set that reaches what can be reached.

    Parameters
    ----------
    change : Change
    parts : list of PartInTime
        Its parts with their times.
    in_by_limit : float
        Chance with it.
    """

    change: Change
    parts: list[PartInTime]
    in_by_limit: float


class Call(StateModel):
    """The call of one instant, with what the next one needs to know of it."""

    call: CallWord
    why: str
    by_pet_min: float | None = Field(default=None, description="PET by which the first part must be decided; None: no call")
    changed_by: str = Field(default="", description="what changed it last, in words")
    since_pet_min: float = Field(description="PET at which it became what it is")
    for_now: Change = Field(default=Change(), description="what must be decided now")
    finding: str = Field(default="", description="what the brief promised, while no more than the brief is known")
    as_briefed: float | None = Field(default=None, description="chance of the brief, before anything began")
    judged: bool = Field(default=True, description="enough was known, once, to judge by more than the brief")
    pet_min: float = Field(description="PET at which it was judged")
    due: CallWord = Field(description="what the rule alone says")
    due_since_pet_min: float = Field(description="since when the rule alone has said so")
    events: int = Field(description="events that counted")
    decisions: int = Field(description="decisions among them")


FindCheapest = Callable[[], Cheapest | None]
ChanceWith = Callable[[Change], float]


class Due(NamedTuple):
    """What the rule alone says at one instant."""

    call: CallWord
    why: str
    by_pet_min: float | None = None
    for_now: Change = Change()


def call_of(
    record: Record, before: Projection, expected: Expected | None, in_time: Array | None,
    find_cheapest: FindCheapest, chance_with: ChanceWith, previous: Call | None = None, *, as_briefed: float | None = None,
    confidence: float | None = None,
) -> Call:
    """The call of an instant.

    Parameters
    ----------
    record : Record
    before : Projection
        At plan pace, with nothing given up.
    expected : Expected or None
        Its draws; None: nothing of the crew remains.
    in_time : array of shape (draws,) or None
        True in the draws in which the crew is in by the limit with every consumable above its reserve.
    find_cheapest : callable
        Gives the cheapest set; None: nothing may be given up. It is asked only when it is needed.
    chance_with : callable
        Change that names all that goes -> chance of being in by the limit with it.
    previous : Call, optional
        The call before this one; None: there is none, so nothing holds the new one back.
    as_briefed : float, optional
        Chance of the brief before anything began; None: that of the previous call, or not known.
    confidence : float, optional
        Wanted probability; None: that of the plan.

    Returns
    -------
    Call
    """
    wanted = record.plan.sortie.confidence if confidence is None else confidence
    briefed = as_briefed if as_briefed is not None or previous is None else previous.as_briefed
    events, decisions = record.counted.events, sum(e.is_decision for e in record.counted.events)
    decided = previous is not None and (decisions > previous.decisions or not is_open_in(record, previous.for_now))
    pet_min, finding = record.pet_min, ""
    knows_more = (previous is not None and previous.judged) or _knows_more_than_the_brief(record, in_time, briefed)
    if expected is None or in_time is None:
        due = Due("none", "Nothing remains to be done.")
    elif not knows_more:
        if briefed is not None and briefed < wanted:
            finding = f"As briefed {chance_text(briefed)} likely inside by the limit."
        due = Due("none", "Too little is finished to know better than the brief.")
    else:
        stands = "none" if decided else None if previous is None else previous.call
        due = _unless_near(
            record, _due(record, before, expected, in_time, find_cheapest, chance_with, wanted, None if decided else previous),
            float(in_time.mean()), wanted, stands,
        )
    steady = previous is not None and previous.due == due.call
    since = previous.due_since_pet_min if previous is not None and steady else pet_min
    chance = None if in_time is None else float(in_time.mean())
    act_by = pet_min + record.plan.sortie.lead / 2.0
    if not decided and previous is not None and _stands(previous, due, pet_min - since, chance, wanted, act_by):
        return previous.model_copy(update={
            "why": f"{due.why} The call changes to '{due.call}' when this has stood for {STEADY_MIN:g} min.",
            "pet_min": pet_min, "due": due.call, "due_since_pet_min": since, "finding": finding, "as_briefed": briefed,
            "events": len(events), "decisions": decisions, "judged": knows_more,
        })
    same = previous is not None and previous.call == due.call
    return Call(
        call=due.call, why=due.why, by_pet_min=due.by_pet_min, for_now=due.for_now, finding=finding, as_briefed=briefed,
        changed_by=previous.changed_by if same and previous else _what_changed(record, previous),
        since_pet_min=previous.since_pet_min if same and previous else pet_min,
        pet_min=pet_min, due=due.call, due_since_pet_min=since, events=len(events), decisions=decisions, judged=knows_more,
    )


def _due(
    record: Record, before: Projection, expected: Expected, in_time: Array, find_cheapest: FindCheapest, chance_with: ChanceWith,
    wanted: float, previous: Call | None,
) -> Due:
    """What the rule says, points 1 to 4; `previous` is the call that stands."""
    chance, standing = float(in_time.mean()), "none" if previous is None else previous.call
    sure = f"Chance in time {chance_text(chance)}"
    if chance >= wanted:
        if previous is None or previous.call == "none" or chance >= wanted + MORE_SURE:
            return Due("none", f"{sure}.")
        why = f"{sure}. The call stands until it is {chance_text(wanted + MORE_SURE)}."
        return Due(previous.call, why, previous.by_pet_min, previous.for_now)
    found = find_cheapest()
    if found is None:
        return Due("none", f"{sure}, and nothing may be given up.")
    if found.in_by_limit < wanted and found.in_by_limit - chance < LEAST_GAIN:
        little = f"{sure}, and the best that may be given up gains too little: {chance_text(found.in_by_limit)}"
        return Due("none", f"{little}.{_sooner(record, before, found.change)}")

    def share_then(by_pet_min: float) -> float:
        """Share of draws in which the room will see less than the confidence `lead` minutes before a time."""
        at = by_pet_min - record.plan.sortie.lead
        return float((chance_then(record, before, expected, in_time, at) < wanted).mean())

    now, can_wait = ([one for one in found.parts if one.now is is_now] for is_now in (True, False))
    if now and can_wait and _is_as_good(record, found, can_wait, chance_with):
        now = []
    timed = [one for one in (found.parts if now else can_wait or found.parts) if one.decide_by_pet_min is not None]
    gains = f"{sure}, with the cheapest cut {chance_text(found.in_by_limit)}"
    waits = _wait_until(record, before, found, chance_with, wanted) if now else None
    if now and waits is None:
        first = min((one for one in now if one.decide_by_pet_min is not None), key=lambda one: one.decide_by_pet_min or 0.0)
        why = f"{gains}. {listed([one.part.name for one in now])} must be decided by PET {clock(first.decide_by_pet_min or 0.0)}."
        return Due("decide", why, first.decide_by_pet_min, part_of(found.change, [one.part for one in now]))
    if not now and (sparing := _sparing(record, before, expected, found, chance_with)) is not None:
        parts = [one for one in sparing.parts if one.decide_by_pet_min is not None]
        by = min(one.decide_by_pet_min or 0.0 for one in parts)
        why = (
            f"{gains}. {listed([one.part.name for one in parts])} must be decided by PET {clock(by)}: given up, "
            f"{listed([one.part.name for one in found.parts])} will likely be spared."
        )
        return Due("decide", why, by, sparing.change)
    if not timed:
        return Due("none", f"{gains}, and nothing of it has to be decided by a certain time.")
    by = min(one.decide_by_pet_min or 0.0 for one in timed) if waits is None else waits
    share = share_then(by)
    if waits is not None:
        gains = f"{gains}. To wait costs less than what would have to go now: something else can still go in its place"
    at = clock(by - record.plan.sortie.lead)
    asked = f"At PET {at}, {record.plan.sortie.lead:g} min before it must be decided, a cut is"
    if share >= (STILL_LIKELY if standing == "expect" else LIKELY):
        return Due("expect", f"{gains}. {asked} {chance_text(share)} likely to be still needed.", by)
    return Due("none", f"{sure}. {asked} only {chance_text(share)} likely to be still needed.")


def _sooner(record: Record, before: Projection, change: Change) -> str:
    """What a change wins at plan pace although it hardly raises the chance, in one sentence; empty when it is under a minute."""
    after = project(with_change(record, change)).end_pet_min
    wins_min = 0.0 if after is None or before.end_pet_min is None else before.end_pet_min - after
    return f" It would still bring the crew in {length(wins_min)} sooner." if wins_min >= 1.0 else ""


def _is_as_good(record: Record, found: Cheapest, parts: Iterable[PartInTime], chance_with: ChanceWith) -> bool:
    """Whether these parts of the cheapest set are as good as all of it: the others win hardly anything."""
    return chance_with(closed(record, part_of(found.change, [one.part for one in parts]))) >= found.in_by_limit - MORE_SURE


def _unless_near(record: Record, due: Due, chance: float, wanted: float, stands: CallWord | None) -> Due:
    """What is due; but the call that stands (None: there is none) instead of a new one to decide near the confidence."""
    if due.call != "decide" or stands in (None, "decide"):
        return due
    highest = min((priority for priority, lost in value_lost(record, due.for_now).items() if lost > 0.0), default=None)
    least = wanted - (FAR if highest == FIRST_CLASS else MORE_SURE)
    if chance < least:
        return due
    names = listed([part.name for part in due.for_now.parts()])
    why = f"Chance in time {chance_text(chance)}. {names} will be asked for if it falls below {chance_text(least)}."
    return Due(stands, why, due.by_pet_min if stands == "expect" else None)


def _wait_until(
    record: Record, before: Projection, found: Cheapest, chance_with: ChanceWith, wanted: float
) -> float | None:
    """PET by which something else can still be decided in place of the part for now, when waiting costs less; None: it does not.

    What starts after the lead time can go later. Waiting must leave the confidence within reach. Then the costs are compared
    class by class, in the draws. The part for now is lost for certain. To wait loses one more of the class in the draws in which
    what is of lower classes and can go later is enough with the part for now only. In the draws in which it is not enough even
    so, something of the class must go in any case, and to wait only puts it in the place of the part for now. What is lost for
    certain must more likely than not spare something of a higher class (as in `_sparing`). Of the first class no chance is taken.
    """
    until = max(0.0, record.pet_min) + record.plan.sortie.lead
    for_now = part_of(found.change, [one.part for one in found.parts if one.now])
    later = {
        t: slot.start_pet_min for t, slot in before.slots.items()
        if slot.start_pet_min > until and record.runs[t].state == NOT_STARTED and not protected(record.runs[t])
    }

    def chance(tasks: Iterable[str], change: Change) -> float:
        return chance_with(closed(record, change.and_defer(t for t in tasks if t not in change.trim)))

    sure = value_lost(record, for_now)
    if sum(sure.values()) <= 0.0 or not later or chance(later, Change()) < wanted:
        return None  # what costs nothing is not put off
    highest = min(priority for priority, lost in sure.items() if lost > 0.0)
    for priority in sorted({record.runs[t].task.priority for t in (*later, *for_now.given_up())}):
        lower = [t for t in later if record.runs[t].task.priority > priority]
        enough, lost_now = chance(lower, for_now), sure.get(priority, 0.0)
        lost_later = max(0.0, enough - chance(lower, Change())) + (1.0 - enough) * lost_now
        reason = LIKELY if FIRST_CLASS < priority < highest else SAME_COST
        if abs(lost_later - lost_now) > reason:
            like_it = min(highest, max(record.runs[t].task.priority for t in later))
            instead = [at for t, at in later.items() if record.runs[t].task.priority >= like_it]
            return min(instead) if lost_later < lost_now else None
    return None


def _sparing(
    record: Record, before: Projection, expected: Expected, found: Cheapest, chance_with: ChanceWith
) -> Cheapest | None:
    """Tasks of lower classes that begin within the lead time, and whose deferral probably spares the highest class that loses.

    That class is the highest in which the cheapest set gives something up. Two deferrals are compared: all tasks of lower classes
    that begin later, with and without the tasks that begin within the lead time. The gain is the share of draws that are in
    time only with them. None when no such task gains enough.
    """
    now, times = max(0.0, record.pet_min), Times(before, expected)
    until = now + record.plan.sortie.lead
    highest = min(value_lost(record, found.change), default=None)
    held = may_not_go(record) | tasks_of_way_home(record)
    free = {
        t: start for t in before.slots
        if (run := record.runs[t]).state == NOT_STARTED and not protected(run) and run.task.leg is None and t not in held
        and highest is not None and run.task.priority > highest and (start := times.start(t)) is not None
    }
    later = [t for t, start in free.items() if start > until]

    def gain(tasks: Iterable[str]) -> float:
        return chance_with(closed(record, Change().and_defer((*tasks, *later)))) - without

    due = sorted((t for t, start in free.items() if start <= until), key=lambda t: (record.runs[t].task.priority, free[t]))
    due = [t for t in due if set(closed(record, Change(defer=(t,))).defer) <= set(free)]
    if not due:
        return None
    without = chance_with(closed(record, Change().and_defer(later)))
    if gain(due) <= LIKELY:
        return None
    for task_id in list(due):
        rest = [t for t in due if t != task_id]
        due = rest if rest and gain(rest) > LIKELY else due
    change = closed(record, Change(defer=tuple(due)))
    return Cheapest(change, parts_in_time(record, times, change), chance_with(change))


def _stands(
    previous: Call, due: Due, due_for_min: float, chance: float | None, wanted: float, act_by_pet_min: float
) -> bool:
    """Whether the previous call stands although the rule says another one. `act_by_pet_min`: half the lead time from now."""
    if previous.call == due.call or chance is None or due_for_min >= STEADY_MIN:
        return False
    if due.call == "decide":
        return due.by_pet_min is not None and due.by_pet_min > act_by_pet_min
    return chance > wanted - FAR if previous.call == "none" else chance < wanted + FAR


def _knows_more_than_the_brief(record: Record, in_time: Array | None, as_briefed: float | None) -> bool:
    """Whether enough is finished, or something has happened that the brief did not foresee."""
    finished = [task_id for task_id, run in record.runs.items() if says_something_about_pace(run)]
    fallen = as_briefed is not None and in_time is not None and float(in_time.mean()) < as_briefed - FALLEN_BY
    return enough_is_finished(record.plan, finished) or fallen


def enough_is_finished(plan: Plan, finished: Collection[str]) -> bool:
    """Whether enough work of the crew is finished to know better than the brief: a few tasks, or one long one.

    Parameters
    ----------
    plan
        With the briefed lengths.
    finished
        Tasks that ran their course; those that are not in the plan, and those without a crew member, do not count.

    Returns
    -------
    bool
    """
    crew = set(plan.crew_lane_ids())
    work_min = {task.id: task.likely_min * len(crew & set(task.lanes)) for task in plan.tasks}
    done = [work_min[task_id] for task_id in finished if work_min.get(task_id, 0.0) > 0.0]
    briefed_min = sum(work_min[task.id] for task in plan.tasks if not task.get_ahead)
    return len(done) >= ENOUGH_TASKS or sum(done) >= ENOUGH_SHARE * briefed_min > 0.0


def _what_changed(record: Record, previous: Call | None) -> str:
    """What changed a call: the last decision or event since the one before, else the work that runs over most, in words."""
    if previous is None:
        return ""
    events = record.counted.events

    def named(task_id: str) -> str:
        return task_id

    new = [event for event in events[previous.events:] if event.kind not in CHANGES_NO_CALL]
    if new:
        return next((event for event in reversed(new) if event.is_decision), new[-1]).in_words(named)
    over = [
        (run.worked_min(record.pet_min) - run.planned_min, task_id) for task_id, run in record.runs.items()
        if run.state == IN_WORK
    ]
    longest = max(over, default=(0.0, ""))
    return f"{longest[1]} runs {length(longest[0])} over" if longest[0] >= 0.5 else "time went on"


def in_time_of(over_min: Array) -> Array:
    """In which draws the crew is in by the limit, all reserves kept.

    Parameters
    ----------
    over_min
        From `minutes_over`, shape (draws,).

    Returns
    -------
    array of shape (draws,)
        1 or 0.
    """
    found: Array = np.asarray(over_min <= 0, dtype=np.float64)
    return found
