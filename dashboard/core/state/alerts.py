"""Alerts: situations that need an action. Each says what, since when, by when, and what to do. `RULES` lists the rules."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from dashboard.core.base.minutes import clock, length, whole
from dashboard.core.base.times import minutes_between
from dashboard.core.base.wording import listed
from dashboard.core.deferral.call import Call
from dashboard.core.deferral.sense_check import all_that_makes_no_sense
from dashboard.core.plan.model import CONSUMABLE_NAMES
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.state.leave_by import trim_to_leave
from dashboard.core.state.model import Alert, EndState, LimitState, TaskState, WorksiteState
from dashboard.core.suits.budget import BELOW_RESERVE, Budget
from dashboard.core.suits.readings import ABOVE_LOADED, amount_read

FIRST_READING_NOTE_PET_MIN = 45.0
FIRST_READING_ALERT_PET_MIN = 90.0
AT_ONCE_MIN = 1e-6
CALL = "call"
BEFORE_THE_CALL = ("no-clock", "ahead-of-now", "below-reserve", "required-out")  # rules whose alerts come before the call


class _Judged(NamedTuple):
    record: Record
    tasks: Mapping[str, TaskState]
    end: EndState
    limit: LimitState
    budget: Mapping[tuple[str, str], Budget]
    worksites: Mapping[str, WorksiteState]


def alerts_of(
    record: Record, tasks: Mapping[str, TaskState], end: EndState, limit: LimitState,
    budget: Mapping[tuple[str, str], Budget], worksites: Mapping[str, WorksiteState],
) -> list[Alert]:
    """Apply every rule to the state.

    While PET zero is in doubt only the rule about PET zero is applied, because the other rules rest on PET.

    Parameters
    ----------
    record : Record
    tasks : mapping of str to TaskState
        By task.
    end : EndState
    limit : LimitState
    budget : mapping of (str, str) to Budget
        By suit and consumable.
    worksites : mapping of str to WorksiteState
        By worksite.

    Returns
    -------
    list of Alert
        The most serious first. Empty once the sortie has ended.
    """
    if record.end_pet_min is not None:
        return []
    judged = _Judged(record, tasks, end, limit, budget, worksites)
    rules = RULES.values() if record.pet_zero_doubt is None else (_no_clock, _dated_ahead)
    return [alert for rule in rules for alert in rule(judged)]


def _no_clock(judged: _Judged) -> Iterator[Alert]:
    """No `clock` event sets PET zero, though the planned start is past or work is logged."""
    record = judged.record
    doubt = record.pet_zero_doubt
    if record.pet_zero_from == "planned start" and (record.pet_min >= 0 or doubt is not None):
        because = f", and {doubt}" if doubt else ""
        yield Alert(
            id="no-clock",
            what=f"PET zero is the planned start: no clock event{because}",
            since_pet_min=0.0,
            by_pet_min=None,
            do="Enter PET zero (a clock event) at the time at which the suits went to battery power.",
        )


def _dated_ahead(judged: _Judged) -> Iterator[Alert]:
    """Events are here that are dated after now, so they do not count yet."""
    ahead = judged.record.counted.ahead
    if not ahead:
        return
    record = judged.record
    furthest_min = max(minutes_between(record.pet_zero, event.at) for event in ahead) - record.pet_min
    many = "An event is" if len(ahead) == 1 else f"{len(ahead)} events are"
    yield Alert(
        id="ahead-of-now",
        what=f"{many} dated after now, by up to {length(furthest_min, 'up')}, and will count only then",
        since_pet_min=None,
        by_pet_min=None,
        do="Compare the clock of the server with another one. If it is right, amend the times of these events.",
    )


def _below_the_reserve(judged: _Judged) -> Iterator[Alert]:
    """A suit is below its reserve while work of its crew member remains."""
    if (judged.end.plan_pace_pet_min or 0.0) <= judged.record.pet_min:
        return
    for (suit, name), one in judged.budget.items():
        if BELOW_RESERVE in one.flags:
            wearer = _wearer(judged, suit)
            yield Alert(
                id=f"below-reserve-{suit}-{name}",
                what=f"Suit {suit} ({wearer}) is below its reserve of {CONSUMABLE_NAMES[name]}",
                since_pet_min=one.reserve_reached_pet_min,
                by_pet_min=None,
                do="Turn back now: give up everything that may be given up. If a reading says otherwise, enter it.",
            )


def _wearer(judged: _Judged, suit: str) -> str:
    return ", ".join(lane.id for lane in judged.record.plan.lanes if lane.suit == suit)


def _first_reading(judged: _Judged) -> Iterator[Alert]:
    """A rate of a suit is assumed, and no reading shows the use yet: a note from PET 0:45, an alert from PET 1:30."""
    pet_min = judged.record.pet_min
    if pet_min < FIRST_READING_NOTE_PET_MIN or (judged.end.plan_pace_pet_min or 0.0) <= pet_min:
        return
    pressing = pet_min >= FIRST_READING_ALERT_PET_MIN
    for suit in dict.fromkeys(suit for suit, _ in judged.budget):
        names = [CONSUMABLE_NAMES[name] for (of, name), one in judged.budget.items() if of == suit and one.assumed]
        if names:
            yield Alert(
                id=f"first-reading-{suit}",
                level="alert" if pressing else "note",
                what=f"Suit {suit} ({_wearer(judged, suit)}): the rate of {listed(names)} is assumed, "
                "and no reading shows the use",
                since_pet_min=FIRST_READING_NOTE_PET_MIN,
                by_pet_min=None if pressing else FIRST_READING_ALERT_PET_MIN,
                do=f"Ask for a reading of {listed(names)}. Until then it sets no limit.",
            )


def _reading_in_doubt(judged: _Judged) -> Iterator[Alert]:
    """The last reading of a consumable is not believed, or is lower than any workload explains."""
    for (suit, name), one in judged.budget.items():
        if one.doubt is not None:
            read, expected = (amount_read(round(value, 2), name) for value in (one.doubt.reading.value, one.doubt.expected))
            yield Alert(
                id=f"reading-{suit}-{name}",
                what=f"Suit {suit} {CONSUMABLE_NAMES[name]}: {read} was read where about {expected} was to be expected, "
                "lower than any workload explains. The lower value counts",
                since_pet_min=one.doubt.reading.pet_min,
                by_pet_min=None,
                do="Read the suit again: the next reading that fits either value settles it.",
            )
            continue
        if one.in_doubt is None:
            continue
        reading, why, against, _ = one.in_doubt
        before = "that were loaded" if why == ABOVE_LOADED else "read before"
        yield Alert(
            id=f"reading-{suit}-{name}",
            what=f"Suit {suit} {CONSUMABLE_NAMES[name]}: the last reading, {amount_read(reading.value, name)}, is above the "
            f"{amount_read(against.value, name)} {before} and is not believed",
            since_pet_min=reading.pet_min,
            by_pet_min=None,
            do="Read the suit again, and amend or withdraw the reading that is wrong.",
        )


def with_alert_of(call: Call, alerts: Sequence[Alert]) -> list[Alert]:
    """Alerts with that of the call in its place.

    Parameters
    ----------
    call
        As last judged.
    alerts
        From `alerts_of`.

    Returns
    -------
    list of Alert
        The same ones unless the call is to decide.
    """
    if call.call != "decide":
        return list(alerts)
    first = [alert for alert in alerts if alert.id.startswith(BEFORE_THE_CALL)]
    return [*first, called_to_decide(call), *(alert for alert in alerts if alert not in first)]


def called_to_decide(call: Call) -> Alert:
    """The room is called to decide: waiting would close the best choice or make it dearer.

    Parameters
    ----------
    call
        One to decide.

    Returns
    -------
    Alert
    """
    return Alert(
        id=CALL,
        what=f"Decide now: {'; '.join(part.in_words() for part in call.for_now.parts())}",
        since_pet_min=call.since_pet_min,
        by_pet_min=call.by_pet_min,
        do="Record what goes now of one of the choices, or decide otherwise. What can wait stays open.",
    )


def _over_the_limit(judged: _Judged) -> Iterator[Alert]:
    """The crew is projected inside after the limit, at plan pace or as expected."""
    margin, p50 = judged.end.margin_min, judged.end.p50_pet_min
    at_plan_pace = margin is not None and margin < 0
    if at_plan_pace or (p50 is not None and p50 > judged.limit.pet_min):
        limit = judged.limit
        yield Alert(
            id="over-limit",
            what=f"{'At plan pace' if at_plan_pace else 'At the expected pace'} the crew is in after the limit, "
            f"PET {clock(limit.pet_min)}, set by {limit.set_by}",
            since_pet_min=None,
            by_pet_min=None,
            do="Follow the call: it says whether something must be decided now, and by when.",
        )


def _suit_short(judged: _Judged) -> Iterator[Alert]:
    """The expected end is past the reserve of a suit, or the plan-pace end where no end is expected."""
    if (judged.end.plan_pace_pet_min or 0.0) <= judged.record.pet_min:
        return
    basis = "plan-pace" if judged.end.p50_pet_min is None else "expected"
    for (suit, name), one in judged.budget.items():
        if one.margin_min < 0 and not one.assumed and BELOW_RESERVE not in one.flags:
            end, reached = one.reserve_reached_pet_min - one.margin_min, one.reserve_reached_pet_min
            past = whole(end, "up") - whole(reached, "down")  # of the two times as they are shown
            yield Alert(
                id=f"suit-short-{suit}-{name}",
                what=f"Suit {suit} ({_wearer(judged, suit)}): the {basis} end is {length(past)} past the "
                f"reserve of {CONSUMABLE_NAMES[name]}, which is reached at PET {clock(one.reserve_reached_pet_min)}",
                since_pet_min=None,
                by_pet_min=None,
                do="Read the suit again, and have this crew member work lighter. The call says what must be decided.",
            )


def _leave_by(judged: _Judged) -> Iterator[Alert]:
    """The crew is projected to leave a worksite after its leave-by time."""
    now = max(0.0, judged.record.pet_min)
    for name, site in judged.worksites.items():
        by, leaves, last = site.leave_by_pet_min, site.leaves_pet_min, site.last_task
        if by is None or leaves is None or last is None or leaves <= by + AT_ONCE_MIN:
            continue
        run, task = judged.record.runs[last], judged.tasks[last]
        trim = trim_to_leave(now, by, task, run.task.shortest)
        do = f"Leave {name} by then: defer or break off what is left there."
        if by <= now:
            do = f"Leave {name} now."
        elif trim is not None:
            do = f"Trim {last} to {length(trim)}, so that {name} is left in time."
        yield Alert(
            id=f"leave-by-{name}",
            what=f"{last} {run.task.title}".rstrip() + f" is projected to end {length(leaves - by, 'up')} after the time to have "
            f"left {name}, PET {clock(by)}, set by {site.leave_by_set_by}",
            since_pet_min=None,
            by_pet_min=by,
            do=do,
        )


def _no_window(judged: _Judged) -> Iterator[Alert]:
    """A task needs a window, and no window that is left is long enough for it."""
    for task_id, task in judged.tasks.items():
        if task.window_missed:
            yield Alert(
                id=f"no-window-{task_id}",
                what=f"No {' or '.join(task.window_missed)} left that holds {task_id} {task.title}".rstrip(),
                since_pet_min=None,
                by_pet_min=task.projected_start_pet_min,
                do="Defer it, trim it, move it forward, or decide to do it without.",
            )


def _rests_on_broken_off(judged: _Judged) -> Iterator[Alert]:
    """A task comes after one that was broken off."""
    runs = judged.record.runs
    for task_id, run in runs.items():
        if run.state != NOT_STARTED or not judged.record.in_plan(task_id):
            continue
        for needed in run.task.after:
            if needed in runs and runs[needed].state == BROKEN_OFF:
                yield Alert(
                    id=f"after-broken-off-{task_id}",
                    what=f"{task_id} {run.task.title} comes after {needed}, which was broken off",
                    since_pet_min=runs[needed].finish_pet_min,
                    by_pet_min=judged.tasks[task_id].projected_start_pet_min,
                    do=f"Decide whether {task_id} can be done; if not, defer it.",
                )


def _required_left_out(judged: _Judged) -> Iterator[Alert]:
    """A required task was deferred."""
    for task_id, task in judged.tasks.items():
        if task.required and not task.in_plan and task.state == DEFERRED:
            yield Alert(
                id=f"required-out-{task_id}",
                what=f"{task_id} {task.title} is required and is not in the plan of record: {task.why_out}",
                since_pet_min=None,
                by_pet_min=None,
                do="Reinstate it; if it was deferred by mistake, withdraw that.",
            )


_SENSE_DO = {
    "obliged": "Reinstate it, or make sure that it is safe to leave open.",
    "together": "Reinstate it, or defer the rest of the group as well.",
    "serves nothing": "Defer it as well, unless it is wanted for itself.",
    "no leg": "Defer it as well, or reinstate the leg.",
}


def _makes_no_sense(judged: _Judged) -> Iterator[Alert]:
    """What was decided leaves the plan of record without sense: something stays open, or a group is torn apart."""
    told: set[str] = set()
    for one in all_that_makes_no_sense(judged.record):
        if one.subject not in told:
            told.add(one.subject)
            title = judged.record.runs[one.subject].task.title
            yield Alert(
                id=f"no-sense-{one.subject}",
                what=one.words.replace(one.subject, f"{one.subject} {title}".rstrip(), 1),
                since_pet_min=None,
                by_pet_min=None,
                do=_SENSE_DO[one.code],
            )


RULES: Mapping[str, Callable[[_Judged], Iterator[Alert]]] = {
    "no-clock": _no_clock,
    "ahead-of-now": _dated_ahead,
    "below-reserve": _below_the_reserve,
    "required-out": _required_left_out,
    "no-sense": _makes_no_sense,
    "over-limit": _over_the_limit,
    "suit-short": _suit_short,
    "leave-by": _leave_by,
    "reading": _reading_in_doubt,
    "first-reading": _first_reading,
    "no-window": _no_window,
    "after-broken-off": _rests_on_broken_off,
}
"""The rules, the most serious first. The ids of a rule's alerts begin with its name."""
