"""Every rule that turns a number into text.

Rules of this file
------------------
1. A PET is ``H:MM``. The word PET stands before it, except in a column or on an axis whose heading says PET.
2. Minutes are whole. Amounts left round down; delays and needs round up. Rounding never makes a figure look safer.
3. Seconds are shown only in the last ten minutes of a countdown, and in ages under a minute.
4. A figure comes with its word: ahead or behind, over or in hand, short.
5. An unknown value is shown as words, never as 0 and never as blank.

All functions are pure and return text. Minutes are floats; None is unknown unless the docstring says otherwise. `towards`
is the direction of rounding: ``down``, ``up`` or ``nearest``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import NamedTuple

from dashboard.core.base.minutes import NOISE_DECIMALS, clock, length
from dashboard.core.base.minutes import Towards as Towards
from dashboard.core.base.minutes import whole as whole
from dashboard.core.base.wording import chance_text
from dashboard.core.base.wording import listed as listed
from dashboard.core.plan.model import CONSUMABLE_NAMES, CONSUMABLE_UNITS
from dashboard.core.schedule.because import Because
from dashboard.core.schedule.waits import Waits
from dashboard.core.state.model import Alert, EndState, LaneState, LogEntry, TaskState

NOT_KNOWN = "not known yet"
TOO_FEW = "too few events"
ON_THE_BRIEF = "on the brief"
ON_THE_BRIEF_WITHIN_MIN = 0.5
SECONDS_UNDER_MIN = 10.0


class Phrase(NamedTuple):
    """A figure and its words, kept apart so that a headline can show the figure large. `figure` may be empty."""

    figure: str
    words: str

    def __str__(self) -> str:
        return f"{self.figure} {self.words}".strip()


# Times --------------------------------------------------------------------------------------------


def pet(minutes: float | None, towards: Towards = "down") -> str:
    """A PET without the word PET, for a column or an axis with that heading: ``2:05``, before PET zero ``-0:05``.

    Parameters
    ----------
    minutes : float or None
        PET minutes.
    towards : str
        ``down`` for the clock and for a time by which something must happen; ``up`` for a projected end.

    Returns
    -------
    str
    """
    return NOT_KNOWN if minutes is None else clock(minutes, towards)


def pet_named(minutes: float | None, towards: Towards = "down") -> str:
    """A PET with the word PET: ``PET 2:05``.

    Parameters
    ----------
    minutes
        PET minutes; None: not known yet.
    towards
        Direction of rounding, see `pet`.

    Returns
    -------
    str
    """
    return NOT_KNOWN if minutes is None else f"PET {pet(minutes, towards)}"


def rehearsal(run: str, from_pet_min: float | None) -> str:
    """The name of a rehearsal: ``Rehearsal of Pool run 3 from PET 2:05, not a recorded run``.

    Parameters
    ----------
    run : str
        Title of the recorded run.
    from_pet_min : float or None
        Where the rehearsal leaves the run, PET minutes.

    Returns
    -------
    str
    """
    branches_at = "" if from_pet_min is None else f" from {pet_named(from_pet_min)}"
    return f"Rehearsal of {run}{branches_at}, not a recorded run"


def utc(instant: datetime | None, *, seconds: bool = True) -> str:
    """A time of day without the word UTC, for a column with that heading: ``11:15:04``.

    Parameters
    ----------
    instant
        Aware; None: not known yet.
    seconds
        Whether the seconds are shown; otherwise they are cut off.

    Returns
    -------
    str
    """
    if instant is None:
        return NOT_KNOWN
    return instant.astimezone(UTC).strftime("%H:%M:%S" if seconds else "%H:%M")


def utc_named(instant: datetime | None, *, seconds: bool = True) -> str:
    """A time of day with the word UTC: ``UTC 11:15:04``.

    Parameters
    ----------
    instant
        Aware; None: not known yet.
    seconds
        Whether the seconds are shown; otherwise they are cut off.

    Returns
    -------
    str
    """
    return NOT_KNOWN if instant is None else f"UTC {utc(instant, seconds=seconds)}"


def date(instant: datetime) -> str:
    """The UTC date, ``2031-04-12``.

    Parameters
    ----------
    instant
        Aware, in any time zone.

    Returns
    -------
    str
    """
    return instant.astimezone(UTC).strftime("%Y-%m-%d")


# Durations ----------------------------------------------------------------------------------------


def duration(minutes: float | None, towards: Towards = "nearest") -> str:
    """A length of time: ``35 min``, ``1 h 52 min``, ``2 h``.

    Parameters
    ----------
    minutes
        Not negative; None: not known yet.
    towards
        Direction of rounding to whole minutes.

    Returns
    -------
    str
    """
    return NOT_KNOWN if minutes is None else length(minutes, towards)


def countdown(minutes: float | None) -> str:
    """Time to go, rounded down: ``in 1 h 52 min``, in the last ten minutes ``in 9 min 30 s``, afterwards ``3 min past``.

    Parameters
    ----------
    minutes
        Until the instant; negative once it is past. None: not known yet.

    Returns
    -------
    str
        A time that is past is rounded up, and is at least 1 min.
    """
    if minutes is None:
        return NOT_KNOWN
    if minutes < 0:
        return f"{length(max(1, whole(-minutes, 'up')))} past"
    if minutes >= SECONDS_UNDER_MIN:
        return f"in {length(whole(minutes, 'down'))}"
    left, seconds = divmod(math.floor(round(minutes * 60, 3)), 60)
    return f"in {left} min {seconds:02d} s" if left else f"in {seconds} s"


def age(seconds: float | None) -> str:
    """How long ago something was received: ``12 s ago``, ``7 min ago``, ``1 h 12 min ago``.

    Parameters
    ----------
    seconds
        Rounded down. More than 5 s below zero is ahead of this clock, and a smaller difference counts as zero. None: never
        received.

    Returns
    -------
    str
    """
    if seconds is None:
        return "none yet"
    if seconds < -5:
        return "ahead of this clock"
    count = max(0, math.floor(seconds))
    return f"{count} s ago" if count < 60 else f"{length(count // 60)} ago"


# Comparisons --------------------------------------------------------------------------------------


def ahead(minutes: float | None) -> Phrase:
    """Ahead or behind: ``7 min behind``, ``on the brief`` within half a minute. Behind rounds up, ahead rounds down.

    Parameters
    ----------
    minutes : float or None
        Positive is ahead.

    Returns
    -------
    Phrase
    """
    if minutes is None:
        return Phrase("", NOT_KNOWN)
    clean = round(minutes, NOISE_DECIMALS)
    count = whole(-clean, "up") if clean < 0 else whole(clean, "down")
    if abs(clean) <= ON_THE_BRIEF_WITHIN_MIN or count == 0:
        return Phrase("", ON_THE_BRIEF)
    return _figure_first(count, "behind" if clean < 0 else "ahead")


def compared(minutes: float | None, more: str, less: str) -> str:
    """A finished time or length against the brief, to the nearest minute: ``13 min later``.

    Parameters
    ----------
    minutes : float or None
        Actual less briefed.
    more, less : str
        The word for a positive and for a negative difference, such as ``later`` and ``earlier``.

    Returns
    -------
    str
    """
    if minutes is None:
        return NOT_KNOWN
    count = whole(minutes, "nearest")
    if abs(minutes) <= ON_THE_BRIEF_WITHIN_MIN or count == 0:
        return ON_THE_BRIEF
    return f"{duration(abs(count))} {more if count > 0 else less}"


def margin(minutes: float | None, below: str = "over") -> Phrase:
    """Margin to a limit: ``7 min in hand`` or ``1 min over``.

    Parameters
    ----------
    minutes : float or None
        Positive is in hand.
    below : str
        The word for a negative margin: ``over``, or ``short`` for a suit budget.

    Returns
    -------
    Phrase
    """
    if minutes is None:
        return Phrase("", NOT_KNOWN)
    clean = round(minutes, NOISE_DECIMALS)
    if clean < 0:
        return _figure_first(whole(-clean, "up"), below)
    if clean < 1:
        return Phrase("", "under 1 min in hand")
    return _figure_first(whole(clean, "down"), "in hand")


def is_in(end: EndState) -> str:
    """The end of a closed sortie: ``Inside at PET 1:45, 1 h 15 min before the limit; sortie closed at PET 4:00``.

    Parameters
    ----------
    end
        Of a sortie that has ended.

    Returns
    -------
    str
    """
    in_pet_min = end.actual_pet_min or 0.0
    left = whole(in_pet_min + (end.margin_min or 0.0), "down") - whole(in_pet_min, "down")  # of the two times as they are shown
    held = "at the limit" if left == 0 else f"{length(abs(left))} {'before' if left > 0 else 'past'} the limit"
    at, closed = (pet_named(minutes) for minutes in (end.actual_pet_min, end.closed_pet_min))
    return f"Inside at {at}, {held}; sortie closed at {closed}"


BECAUSE: Mapping[str, tuple[str, str]] = {
    "finished work": ("work so far took {} longer than briefed", "work so far took {} less than briefed"),
    "holds": ("holds cost {}", "holds save {}"),
    "waits": ("waits cost {}", "{} of briefed waiting is not needed"),
    "work beyond the brief": ("work beyond the brief costs {}", "work beyond the brief saves {}"),
    "decisions": ("decisions cost {}", "decisions save {}"),
    "pace of what remains": (
        "what remains is expected to take {} longer than at plan pace",
        "what remains is expected to take {} less than at plan pace",
    ),
    "spread": ("the spread of what remains adds {}", "the spread of what remains takes {} off"),
}


def because(end: EndState) -> str:
    """Why the end lies where it does: ``T370 likely misses daylight until PET 5:53; the next is from PET 6:30``.

    Parameters
    ----------
    end
        Of the state.

    Returns
    -------
    str
        One sentence without a full stop, about the largest cause in the direction in which the end lies off the brief. Empty when
        no cause moves it by half a minute.
    """
    whole_min = sum(one.min for one in end.because)
    causes = [one for one in end.because if abs(one.min) >= ON_THE_BRIEF_WITHIN_MIN]
    if abs(whole_min) >= ON_THE_BRIEF_WITHIN_MIN:
        causes = [one for one in causes if (one.min > 0) == (whole_min > 0)] or causes
    return because_said(causes[0]) if causes else ""


def because_said(cause: Because) -> str:
    """One cause of the end lying where it does, in words.

    Parameters
    ----------
    cause
        Of `EndState.because`.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    if cause.what == "window likely missed":
        missed = f"{cause.task} likely misses {cause.window} until {pet_named(cause.until_pet_min)}"
        return f"{missed}; the next is from {pet_named(cause.next_pet_min, 'up')}"
    later, sooner = BECAUSE[cause.what]
    said = (later if cause.min > 0 else sooner).format(duration(abs(cause.min)))
    return f"{said}, {cause.task} most of all" if cause.task is not None else said


def suit_margin(minutes: float | None) -> Phrase:
    """Margin of a suit or consumable: ``26 min in hand``, ``6 min short``.

    Parameters
    ----------
    minutes
        Positive is in hand; None: not known yet.

    Returns
    -------
    Phrase
    """
    return margin(minutes, below="short")


def which_end(end: EndState) -> str:
    """The end that suit margins are against: ``expected end``, else ``plan-pace end``.

    Parameters
    ----------
    end
        Of the state that the margins are taken from.

    Returns
    -------
    str
    """
    return "plan-pace end" if end.p50_pet_min is None else "expected end"


def at_plan_pace(end: EndState, minutes: float | None) -> str:
    """The plan-pace margin of a suit, to stand second: ``, at plan pace 49 min in hand``.

    Parameters
    ----------
    end
        Of the state that the margin is taken from.
    minutes
        Positive is in hand; None: not known.

    Returns
    -------
    str
        Empty when the first margin is already against the plan-pace end, or when this one is not known.
    """
    return "" if end.p50_pet_min is None or minutes is None else f", at plan pace {suit_margin(minutes)}"


def suit_margin_short(minutes: float | None) -> str:
    """As `suit_margin`, shorter: from one hour on in whole hours, ``over 2 h in hand``, and at most 24 hours.

    Parameters
    ----------
    minutes
        Positive is in hand; None: not known yet.

    Returns
    -------
    str
    """
    if minutes is None or minutes < 60:
        return str(suit_margin(minutes))
    return f"over {min(24, whole(minutes / 60, 'down'))} h in hand"


def began(late_min: float | None) -> str:
    """A start against the briefed start: ``began 7 min late``. Empty within half a minute and when not known.

    Parameters
    ----------
    late_min : float or None
        Actual less briefed start.

    Returns
    -------
    str
    """
    said = ahead(None if late_min is None else -late_min)
    if not said.figure:
        return ""
    return f"began {said.figure} {said.words}".replace(" behind", " late").replace(" ahead", " early")


def starts(late_min: float | None) -> str:
    """As `began`, for a projected start: ``starts 7 min late``.

    Parameters
    ----------
    late_min
        Projected less briefed start, minutes; None: not known.

    Returns
    -------
    str
        Empty within half a minute and when not known.
    """
    return began(late_min).replace("began", "starts", 1)


def worked_of(worked_min: float | None, planned_min: float, *, is_short: bool = False) -> str:
    """Work so far against the planned length: ``33 of 35 min``; beyond it ``41 min, planned 35``.

    Parameters
    ----------
    worked_min
        Minutes in work, rounded down; None: the start is not known.
    planned_min
        Planned length, rounded to the nearest minute.
    is_short
        Whether there is little room: ``41 of 35 min``, ``start unknown``.

    Returns
    -------
    str
    """
    planned = whole(planned_min, "nearest")
    if worked_min is None:
        return "start unknown" if is_short else f"start not known, planned {planned} min"
    worked = whole(worked_min, "down")
    return f"{worked} of {planned} min" if is_short or worked <= planned else f"{worked} min, planned {planned}"


def on_hold(since_pet_min: float | None, pet_min: float) -> str:
    """That something is on hold, and for how long: ``on hold 12 min``.

    Parameters
    ----------
    since_pet_min
        When the hold began; None: not known.
    pet_min
        Now.

    Returns
    -------
    str
    """
    if since_pet_min is None:
        return "on hold"
    return f"on hold {duration(max(0.0, pet_min - since_pet_min), 'down')}"


def took(worked_min: float | None, briefed_min: float) -> str:
    """Minutes in work of a finished task against its briefed length: ``41 min, briefed 40``.

    Parameters
    ----------
    worked_min
        Minutes in work; None: the start is not known.
    briefed_min
        Briefed length; both are rounded to the nearest minute.

    Returns
    -------
    str
    """
    briefed = whole(briefed_min, "nearest")
    return (
        f"start not known, briefed {briefed} min"
        if worked_min is None
        else (f"{whole(worked_min, 'nearest')} min, briefed {briefed}")
    )


def to_go(remaining_min: float | None) -> str:
    """Work that remains, rounded up: ``12 min to go``; at least one minute.

    Parameters
    ----------
    remaining_min
        None: not known yet.

    Returns
    -------
    str
    """
    return NOT_KNOWN if remaining_min is None else f"{max(1, whole(remaining_min, 'up'))} min to go"


def _figure_first(count: int, word: str) -> Phrase:
    if count < 60:
        return Phrase(str(count), f"min {word}")
    figure, _, rest = length(count).partition(" h")
    return Phrase(f"{figure} h{rest.removesuffix(' min')}", f"min {word}" if rest else word)


# Chances, counts and amounts ----------------------------------------------------------------------


def chance(probability: float | None) -> str:
    """A probability from 0 to 1, rounded down and never shown as certain: ``93 %``, ``over 99 %``, ``under 1 %``.

    Parameters
    ----------
    probability
        None: not known yet.

    Returns
    -------
    str
    """
    if probability is None:
        return NOT_KNOWN
    return chance_text(probability)


def fits(after: str, from_pet_min: float, until_pet_min: float) -> str:
    """Where a get-ahead fits: ``after T090 from PET 2:05, begun by PET 2:20``.

    Parameters
    ----------
    after : str
        The task before it; empty when there is none.
    from_pet_min, until_pet_min : float
        Its earliest and its latest start.

    Returns
    -------
    str
    """
    where = f"after {after} from" if after else "from"
    return f"{where} {pet_named(from_pet_min)}, begun by {pet_named(until_pet_min)}"


def share(part: float) -> str:
    """A share from 0 to 1: ``34 %``; ``under 1 %`` for a small share that is not zero.

    Parameters
    ----------
    part
        Rounded to the nearest percent.

    Returns
    -------
    str
    """
    percent = whole(part * 100, "nearest")
    return "under 1 %" if percent == 0 and part > 0 else f"{percent} %"


def against(factor: float | None) -> str:
    """A factor as the difference from 1: ``+12 %``, ``-4 %``, ``0 %``.

    Parameters
    ----------
    factor
        1 is no difference; None: not known yet.

    Returns
    -------
    str
        Rounded to the nearest percent.
    """
    if factor is None:
        return NOT_KNOWN
    percent = whole(100 * (factor - 1), "nearest")
    return f"{percent:+d} %" if percent else "0 %"


def pace(lane: LaneState) -> str:
    """What is learned of the pace of a lane, and how sure it is: ``+8 % against the brief (-3 % to +20 %), too few to tell``.

    Parameters
    ----------
    lane
        Of the state.

    Returns
    -------
    str
        Without the number of finished tasks.
    """
    if lane.pace is None:
        return "no finished task tells of it yet"
    said = f"{against(lane.pace)} against the brief ({against(lane.pace_p10)} to {against(lane.pace_p90)})"
    return said if lane.pace_told else f"{said}, too few to tell"


def between(p10_min: float | None, p90_min: float | None) -> str:
    """P10 to P90 of a PET: ``PET 6:12 to 6:51 (P10 to P90)``.

    Parameters
    ----------
    p10_min
        PET minutes, rounded down.
    p90_min
        PET minutes, rounded up.

    Returns
    -------
    str
        "not known yet" when one of the two is None.
    """
    if p10_min is None or p90_min is None:
        return NOT_KNOWN
    return f"PET {pet(p10_min)} to {pet(p90_min, 'up')} (P10 to P90)"


UNITS: Mapping[str, str] = CONSUMABLE_UNITS
NAMES: Mapping[str, str] = CONSUMABLE_NAMES


def amount(value: float | None, consumable: str, towards: Towards = "down") -> str:
    """An amount of a consumable with its unit: ``0.41 kg``, ``2.9 kg``, ``290 Wh``.

    Parameters
    ----------
    value : float or None
        In units of the plan.
    consumable : str
        Decides the unit.
    towards : str
        ``down`` for the amount left; ``up`` for a need or a reserve.

    Returns
    -------
    str
        With two decimals below 1 kg, one decimal from 1 kg on, and none for Wh.
    """
    if value is None:
        return NOT_KNOWN
    unit = UNITS.get(consumable, "kg")
    decimals = 0 if unit == "Wh" else 2 if abs(value) < 1 else 1
    scale = 10**decimals
    return f"{whole(value * scale, towards) / scale:.{decimals}f} {unit}"


def how_many(number: int, one: str, many: str | None = None) -> str:
    """A count with its noun: ``1 line``, ``2 lines``, ``no lines``.

    Parameters
    ----------
    number
        The count.
    one
        The noun in the singular.
    many
        The noun in the plural; None: `one` with an s.

    Returns
    -------
    str
    """
    plural = many or f"{one}s"
    return f"no {plural}" if number == 0 else f"{number} {one if number == 1 else plural}"


# Sentences about the state ------------------------------------------------------------------------


def or_why(value: float | None, say: Callable[[float], object], why: str | None = None) -> str:
    """The text of a value, or the reason why it is not known.

    Parameters
    ----------
    value : float or None
    say : callable
        Gives the text of a known value.
    why : str or None
        The reason, if there is one.

    Returns
    -------
    str
    """
    return str(say(value)) if value is not None else (why or NOT_KNOWN)


def waits_for(waits: Waits | None, titles: Mapping[str, str], tasks: Mapping[str, TaskState]) -> str:
    """What a task waits for: ``waits for lane EV2 until PET 2:05``. Empty when nothing holds it back.

    Parameters
    ----------
    waits : Waits or None
    titles : mapping of str to str
        Title of each task.
    tasks : mapping of str to TaskState
        Of the same state. What waits for a task that is done waits for the lag after it.

    Returns
    -------
    str
    """
    if waits is None or waits.kind == "now":
        return ""
    until = "" if waits.until_pet_min is None else f" until {pet_named(waits.until_pet_min, 'up')}"
    name = waits.name or ""
    held = "lag after" if name in tasks and tasks[name].state == "done" else "waits for"
    match waits.kind:
        case "task":
            return f"{held} {titles.get(name) or name}{until}"
        case "lane":
            return f"waits for lane {name}{until}" if name else f"waits for its lane{until}"
        case "window":
            return f"waits for {name}{until}"
        case "not before":
            return "" if waits.until_pet_min is None else f"not before {pet_named(waits.until_pet_min, 'up')}"
        case "hold":
            return f"on hold{until}"


def alert(alert: Alert) -> str:
    """An alert in one text: what, since when, by when, and what to do.

    Parameters
    ----------
    alert
        Its two times are left out where they are None.

    Returns
    -------
    str
    """
    since = f" Since {pet_named(alert.since_pet_min)}." if alert.since_pet_min is not None else ""
    by = f" By {pet_named(alert.by_pet_min)}:" if alert.by_pet_min is not None else ""
    return f"{alert.what}.{since}{by} {alert.do}"


LINK = "link"  # the kind of window in which the room reaches the crew
WITHOUT: Mapping[str, str] = {"daylight": "dark", LINK: "no comm"}


def outside_window(kind: str) -> str:
    """The word for being outside a window of `kind`: ``dark``, ``no comm``, else ``no <kind>``.

    Parameters
    ----------
    kind
        Kind of the window, such as ``daylight``.

    Returns
    -------
    str
    """
    return WITHOUT.get(kind, f"no {kind}")


def entry_marks(entry: LogEntry) -> str:
    """The marks of a log entry: entered by another, late, amended, withdrawn, pending, far off.

    Parameters
    ----------
    entry
        An entry of the log.

    Returns
    -------
    str
        Joined by commas; empty when the entry has none.
    """
    marks = []
    if entry.entered_by is not None:
        marks.append(f"entered with the key of {entry.entered_by}")
    if entry.late_min is not None:
        marks.append(f"entered {duration(entry.late_min, 'up')} late")
    if entry.amended_by:
        marks.append("amended")
    if entry.withdrawn_by is not None:
        marks.append("withdrawn")
    if entry.pending:
        marks.append(f"not yet: counts from {pet_named(entry.pet_min)} on")
    if entry.far_off is not None:
        marks.append(f"time far off: {entry.far_off}")
    return ", ".join(marks)
