"""The story of a sortie in words: when the crew is inside, why, what the room is called for, what a choice wins and costs.

Board, command line, debrief and reports take these words from here, so that they say the same thing in the same way. All of it
is on one basis: the expected end (P50), or the end at plan pace where nothing was drawn. A difference between two times is taken
from the times as they are shown, so that a reader who subtracts them gets the same minutes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping

from dashboard.core.base.minutes import whole
from dashboard.core.deferral.advice_model import Advice, Choice, IfNotDecided, Item, Rung
from dashboard.core.events.change import Change, Part
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import EndState, LimitState, SortieState
from dashboard.core.suits.shortfall import LIMIT as THE_LIMIT
from dashboard.words import (
    LINK,
    Phrase,
    Towards,
    because,
    chance,
    countdown,
    duration,
    listed,
    pet,
    pet_named,
    suit_margin,
)

Named = Callable[[str], str]
CALLS = {"none": "nothing to decide", "expect": "expect a cut", "decide": "decide", None: "not judged yet"}

# The end ------------------------------------------------------------------------------------------


def expected_pet_min(end: EndState) -> float | None:
    """The projected end with which limits and other ends are compared.

    Parameters
    ----------
    end
        Of a state.

    Returns
    -------
    float or None
        P50, else the end at plan pace; None: no task of the crew is in the plan of record.
    """
    return end.p50_pet_min if end.p50_pet_min is not None else end.plan_pace_pet_min


def apart_min(end_pet_min: float, by_pet_min: float, towards: Towards = "up") -> int:
    """Minutes from an end to a time that it is compared with, as the two are shown.

    Parameters
    ----------
    end_pet_min
        Shown rounded as `towards` says.
    by_pet_min
        Shown rounded down.
    towards
        ``up`` for a projected end, ``nearest`` for one that has happened.

    Returns
    -------
    int
        Positive: the end is before the time.
    """
    return whole(by_pet_min, "down") - whole(end_pet_min, towards)


def against_limit(end_pet_min: float, limit_pet_min: float, towards: Towards = "up") -> Phrase:
    """An end held against the limit: ``57 min past the limit PET 6:30``.

    Parameters
    ----------
    end_pet_min, limit_pet_min : float
    towards : str
        As for `apart_min`.

    Returns
    -------
    Phrase
        Its figure is empty when the two fall into the same minute.
    """
    apart, limit = apart_min(end_pet_min, limit_pet_min, towards), f"the limit {pet_named(limit_pet_min)}"
    if apart == 0:
        return Phrase("", f"at {limit}")
    figure, _, rest = duration(abs(apart)).partition(" ")
    return Phrase(figure, f"{rest} {'before' if apart > 0 else 'past'} {limit}")


def chance_in_time(probability: float | None) -> str:
    """``chance in time 6 %``, or that it is not known yet.

    Parameters
    ----------
    probability
        Of being in by the limit with every reserve kept; None: not known.

    Returns
    -------
    str
    """
    return f"chance in time {chance(probability)}"


def inside(end: EndState, limit: LimitState) -> str:
    """When the crew is inside: ``Inside by PET 7:27: 57 min past the limit PET 6:30; chance in time 6 %``.

    Parameters
    ----------
    end : EndState
    limit : LimitState

    Returns
    -------
    str
        Without a full stop. Once the crew is in: ``Inside at PET 6:21, 9 min before the limit PET 6:30``.
    """
    if end.actual_pet_min is not None:
        held = against_limit(end.actual_pet_min, limit.pet_min, "down")
        return f"Inside at {pet_named(end.actual_pet_min)}, {held}"
    expected = expected_pet_min(end)
    if expected is None:
        return "No task of the crew is in the plan of record"
    return inside_by(expected, limit.pet_min, end.in_by_limit, drawn=end.p50_pet_min is not None)


def inside_by(end_pet_min: float, limit_pet_min: float, in_by_limit: float | None, *, drawn: bool) -> str:
    """As `inside`, for any projected end, such as that of a choice.

    Parameters
    ----------
    end_pet_min, limit_pet_min : float
    in_by_limit : float or None
        Chance in time; None: not drawn.
    drawn : bool
        False: the end is that at plan pace, which is said.

    Returns
    -------
    str
    """
    basis = "" if drawn else " at plan pace"
    said = f"Inside by {pet_named(end_pet_min, 'up')}{basis}: {against_limit(end_pet_min, limit_pet_min)}"
    return said if in_by_limit is None else f"{said}; {chance_in_time(in_by_limit)}"


def cause(end: EndState, limit: LimitState | None = None, confidence: float | None = None) -> str:
    """The largest cause: ``Mostly: T370 likely misses daylight until PET 5:53; the next is from PET 6:30``.

    Why the end lies off the brief does not always explain why the chance is below the wanted one. Where the end is no later than
    briefed, the cause is then the suit that sets the limit; where the end is in time, it is the window that some runs miss; and
    where neither is known, `reconciled` says what there is to say.

    Parameters
    ----------
    end
        Of a state.
    limit
        Of the same state; None: only the way from the briefed end to the projected one is told.
    confidence
        Wanted chance; None: none is wanted.

    Returns
    -------
    str
        Without a full stop; empty when nothing moves the end off the brief, or nothing that does makes the chance low.
    """
    said, expected = because(end), expected_pet_min(end)
    if limit is None or confidence is None or expected is None or end.in_by_limit is None or end.in_by_limit >= confidence:
        return f"Mostly: {said}" if said else ""
    is_late = sum(one.min for one in end.because) > 0
    if end.may_miss and (expected <= limit.pet_min or not said or end.because[0].what == "spread"):
        one = end.may_miss[0]
        said = f"{one.task} misses {one.window} until {pet_named(one.until_pet_min)} in {chance(one.share)} of simulated runs"
    elif not is_late and not limit.set_by.startswith("planned"):
        said = f"{limit.set_by} lasts only to {pet_named(limit.pet_min)} with its reserve kept"
    elif not is_late:
        said = ""
    return f"Mostly: {said}" if said else ""


def reconciled(end: EndState, limit: LimitState, confidence: float | None) -> str:
    """Why an end before the limit goes with a chance below the wanted one, in one sentence.

    Parameters
    ----------
    end : EndState
    limit : LimitState
    confidence : float or None
        Wanted chance.

    Returns
    -------
    str
        Empty when there is nothing to explain.
    """
    sure, expected = end.in_by_limit, expected_pet_min(end)
    if sure is None or confidence is None or expected is None or sure >= confidence or expected > limit.pet_min:
        return ""
    if end.short_of not in (None, THE_LIMIT):
        return f"In {'most' if sure < 0.5 else 'some'} simulated runs {end.short_of} reaches its reserve first."
    if end.p90_pet_min is not None and end.p90_pet_min > limit.pet_min and sure >= 0.5:
        return f"One simulated run in ten ends after {pet_named(end.p90_pet_min, 'up')}."
    return f"{'Most' if sure < 0.5 else 'Some'} simulated runs end past the limit, or with a suit at its reserve."


def certain_enough(short_by_min: float, confidence: float | None, short_of: str | None = None) -> str:
    """What is missing for the wanted chance: ``for a chance of 90 % it would have to end 1 h 08 min earlier``.

    When that is what a suit lasts, this is said: ``... earlier, since suit A water may reach its reserve first``.

    Parameters
    ----------
    short_by_min : float
        0: nothing is missing.
    confidence : float or None
        Wanted chance; None: at plan pace.
    short_of : str, optional
        What most simulated runs that are not in time are past; None: not known.

    Returns
    -------
    str
        Empty when nothing is missing.
    """
    if short_by_min <= 0:
        return ""
    wanted = "to keep limit and reserves" if confidence is None else f"for a chance of {chance(confidence)}"
    since = f", since {short_of} may reach its reserve first" if short_of not in (None, THE_LIMIT) else ""
    return f"{wanted} it would have to end {duration(short_by_min, 'up')} earlier{since}"


def suit_lasts(margin_min: float | None, reached_pet_min: float | None, end_pet_min: float | None) -> Phrase:
    """A suit's margin against the end: ``49 min short``, from the two times as they are shown.

    Parameters
    ----------
    margin_min
        For when a time is missing; None: not known.
    reached_pet_min
        When its reserve is reached; None: not known.
    end_pet_min
        The end that it is held against; None: not known.

    Returns
    -------
    Phrase
    """
    if reached_pet_min is None or end_pet_min is None:
        return suit_margin(margin_min)
    apart = apart_min(end_pet_min, reached_pet_min)
    return suit_margin(0.0 if apart == 0 and (margin_min or 0.0) >= 0 else float(apart or -1))


# The call -----------------------------------------------------------------------------------------


def call_head(advice: Advice) -> str:
    """The call in a few words: ``decide by PET 4:41``, ``expect a cut``.

    Parameters
    ----------
    advice
        Of a state.

    Returns
    -------
    str
    """
    by = advice.call_by_pet_min
    return f"{CALLS[advice.call]} by {pet_named(by)}" if advice.call == "decide" and by is not None else CALLS[advice.call]


def goes_now(advice: Advice, pet_min: float | None = None) -> str:
    """What goes now and by when: ``32 min left: defer T380; defer T390``; for an expected cut by when its first part is due.

    Parameters
    ----------
    advice : Advice
    pet_min : float or None
        Now; None: the time left is not told.

    Returns
    -------
    str
        Empty when the room is not called.
    """
    by = advice.call_by_pet_min
    if advice.call == "decide":
        what = "; ".join(part.in_words() for part in advice.call_for_now.parts())
        if pet_min is None or by is None:
            return what
        left = countdown(by - pet_min)
        return f"{left.removeprefix('in ')} left: {what}" if left.startswith("in ") else f"{left}: {what}"
    if advice.call == "expect":
        return "nothing goes now" if by is None else f"nothing goes now; the first decision is due by {pet_named(by)}"
    return ""


def choice_of_call(advice: Advice) -> tuple[int, Choice] | None:
    """The choice on which the call rests: the first one that holds all that goes now; else the first one.

    While nothing goes now, it is the first one that must be decided by the time of the call.

    Parameters
    ----------
    advice
        Of a state.

    Returns
    -------
    (int, Choice) or None
        Its number, from 1 on; None without choices.
    """
    by, numbered = pet_named(advice.call_by_pet_min), list(enumerate(advice.choices, 1))
    if not advice.call_for_now.is_empty:
        holding = [one for one in numbered if holds_all_for_now(advice, one[1])]
    else:
        holding = [one for one in numbered if pet_named(one[1].decide_by_pet_min) == by]
    return next(iter(holding or numbered), None)


def holds_all_for_now(advice: Advice, choice: Choice) -> bool:
    """Whether a choice holds all that the call asks for.

    No choice does so where the call asks for tasks of a lower class so that the choice will likely be spared.

    Parameters
    ----------
    advice
        Of a state.
    choice
        One of its choices.

    Returns
    -------
    bool
        True as well when the call asks for nothing.
    """
    return set(advice.call_for_now.parts()) <= set(choice.change().parts())


def no_comm_at(plan: Plan, by_pet_min: float | None, pet_min: float) -> str:
    """That the room cannot reach the crew when a decision is due: ``no comm from PET 3:49 to 4:02: tell the crew before``.

    Parameters
    ----------
    plan
        Its windows of the kind ``link`` say when the room reaches the crew.
    by_pet_min
        When the decision is due; None: none is.
    pet_min
        Now. Within the time without comm nobody can be told before.

    Returns
    -------
    str
        Empty when the room reaches the crew then, or the plan has no such windows.
    """
    windows = sorted((one.from_, one.to) for one in plan.windows if one.kind == LINK)
    if by_pet_min is None or not windows or any(begin <= by_pet_min <= end for begin, end in windows):
        return ""
    since = max((end for _, end in windows if end < by_pet_min), default=None)
    until = min((begin for begin, _ in windows if begin > by_pet_min), default=None)
    if since is None or since <= pet_min:
        return "no comm until then" if until is None else f"no comm until {pet_named(until, 'up')}"
    end = "" if until is None else f" to {pet(until, 'up')}"
    return f"no comm from {pet_named(since)}{end}: tell the crew before"


def can_wait(advice: Advice) -> str:
    """What of the choice of the call can wait: ``1 more of choice 1 can wait until PET 5:20 and may prove needless``.

    Parameters
    ----------
    advice
        Of a state.

    Returns
    -------
    str
        Empty unless the call is to decide and something can wait.
    """
    found = choice_of_call(advice)
    if advice.call != "decide" or found is None:
        return ""
    waiting = [item for item in found[1].items if not item.now]
    known = [item.decide_by_pet_min for item in waiting if item.decide_by_pet_min is not None]
    until = f" until {pet_named(min(known))}" if known else ""
    return f"{len(waiting)} more of choice {found[0]} can wait{until} and may prove needless" if waiting else ""


def call_changed(advice: Advice) -> str:
    """When the call changed, and by which event: ``since PET 3:44: start C120``, or ``since PET 3:44, when it was first judged``.

    Parameters
    ----------
    advice
        Of a state.

    Returns
    -------
    str
        Empty while there is no call.
    """
    if advice.call is None or advice.call_since_pet_min is None:
        return ""
    since = f"since {pet_named(advice.call_since_pet_min)}"
    return f"{since}: {advice.call_changed_by}" if advice.call_changed_by else f"{since}, when it was first judged"


def call_lines(advice: Advice) -> list[str]:
    """The whole call: what the brief promised, the call with what goes now, its reason, and what changed it.

    Parameters
    ----------
    advice
        Of a state.

    Returns
    -------
    list of str
        Lines; empty when the room is not called and the brief promised enough.
    """
    lines = [advice.finding] if advice.finding else []
    if advice.call == "none" and advice.needed and advice.call_why:
        return [*lines, f"No cut is called for. {advice.call_why}"]
    if advice.call == "none" or not advice.call_why:
        return lines
    if advice.call is None:
        return [*lines, advice.call_why]
    head, goes, wait = call_head(advice), goes_now(advice), can_wait(advice)
    said = "; ".join(one for one in (goes, wait) if one)
    return [*lines, f"{head[0].upper()}{head[1:]}: {said}. {advice.call_why}", f"The call stands {call_changed(advice)}."]


# Choices ------------------------------------------------------------------------------------------


def item_in_words(item: Item, named: Named = str) -> str:
    """One thing that a choice changes: ``trim T400 Photo survey to 6 min``.

    Parameters
    ----------
    item : Item
    named : callable
        Task or alternative -> how it is named.

    Returns
    -------
    str
    """
    return Part(item.how, item.task, item.to).in_words(named)


def when_goes(is_now: bool, call: str | None) -> str:
    """The heading of what goes now, or of what can wait.

    Parameters
    ----------
    is_now : bool
    call : str or None
        Only beside a call to decide does anything go now, and may what can wait prove needless: before that all of it can wait.

    Returns
    -------
    str
    """
    if is_now:
        return "now" if call == "decide" else "closes first, though nothing has to be decided yet"
    return "can wait until then, and may prove needless" if call == "decide" else "can wait until then"


def item_by(item: Item) -> str:
    """By when it must be decided.

    Parameters
    ----------
    item
        Of a choice.

    Returns
    -------
    str
    """
    return pet_named(item.decide_by_pet_min) if item.decide_by_pet_min is not None else "no time set"


def item_wins(item: Item) -> str:
    """By how much the end would be later without it: ``7 min``; ``with T390`` for what goes along with another part.

    Parameters
    ----------
    item
        Of a choice.

    Returns
    -------
    str
        Empty where it is not worked out.
    """
    if item.along_with is not None:
        return f"with {item.along_with}"
    if item.wins_min is None:
        return ""
    return "under 1 min" if item.wins_min < 1.0 else duration(item.wins_min, "down")


def choice_inside(choice: Choice | IfNotDecided, limit_pet_min: float) -> str:
    """When the crew is inside with a choice, as `inside` says it, against the earlier one of the limit and a suit's reserve.

    Parameters
    ----------
    choice : Choice or IfNotDecided
        The latter: when nobody decides.
    limit_pet_min : float
        The limit of the sortie less its reserve.

    Returns
    -------
    str
    """
    end = choice.p50_pet_min if choice.p50_pet_min is not None else choice.end_pet_min
    if end is None:
        return "No task of the crew remains"
    limit = min([limit_pet_min, *(end + margin for margin in choice.margin_min.values())])
    return inside_by(end, limit, choice.in_by_limit, drawn=choice.p50_pet_min is not None)


def cost(change: Change, value_lost: Mapping[str, float], priorities: Mapping[str, int]) -> str:
    """What is lost, in tasks: ``2 of 9 priority-1 tasks; 1 of 3 priority-3 tasks cut short``.

    Parameters
    ----------
    change : Change
    value_lost : mapping
        Priority class -> value lost. It is told for a class of which no task is named, as when another option is taken.
    priorities : mapping
        Task of the plan of record -> its priority; what is not in it, such as a leg, is not counted.

    Returns
    -------
    str
        ``nothing of value`` when nothing is lost.
    """
    of = Counter(priorities.values())
    gone = Counter(priorities[t] for t in (*change.defer, *change.break_off) if t in priorities)
    cut = Counter(priorities[t] for t in change.trim if t in priorities)
    said = []
    for priority in sorted({*gone, *cut, *(int(p) for p, lost in value_lost.items() if lost)}):
        tasks = f"of {of[priority]} priority-{priority} {'task' if of[priority] == 1 else 'tasks'}"
        said += [f"{gone[priority]} {tasks}"] if gone[priority] else []
        said += [f"{cut[priority]} {tasks} cut short"] if cut[priority] else []
        if not gone[priority] and not cut[priority]:
            said.append(f"{whole(value_lost[str(priority)] * 10, 'up') / 10:g} in value of priority {priority}")
    return "; ".join(said) or "nothing of value"


def priorities_of(plan: Plan, state: SortieState) -> dict[str, int]:
    """Task of the plan of record -> its priority; legs, and get-aheads that were not begun, are left out.

    Parameters
    ----------
    plan : Plan
        It says which tasks are legs.
    state : SortieState

    Returns
    -------
    dict
    """
    legs = {task.id for task in plan.tasks if task.leg is not None}
    return {
        t: one.priority for t, one in state.tasks.items()
        if t not in legs and one.in_plan and not (one.get_ahead and one.state == "not started")
    }


def rung_wanted(rung: Rung) -> str:
    """The step of the ladder: ``90 %``, or ``in time at plan pace``.

    Parameters
    ----------
    rung
        Of the advice.

    Returns
    -------
    str
    """
    return "in time at plan pace" if rung.wanted is None else chance(rung.wanted)


def rung_inside(rung: Rung) -> str:
    """When the crew is inside on a rung of the ladder, on the basis of the rung: ``PET 6:21``.

    Parameters
    ----------
    rung
        Of the ladder of certainty.

    Returns
    -------
    str
        Empty where nothing reaches it.
    """
    at_plan_pace = rung.wanted is None or rung.p50_pet_min is None
    return pet_named(rung.end_pet_min if at_plan_pace else rung.p50_pet_min, "up") if rung.reached else ""


def rung_goes(rung: Rung) -> list[str]:
    """What would have to go for it, one thing per line.

    Parameters
    ----------
    rung
        Of the advice.

    Returns
    -------
    list of str
    """
    if not rung.reached:
        return ["nothing that may go is enough"]
    return [part.in_words() for part in rung.parts()] or ["nothing"]


def if_nobody_decides(state: SortieState) -> str:
    """When the choices close, and what happens when none of them is ever recorded.

    Parameters
    ----------
    state
        With choices.

    Returns
    -------
    str
        ``Choice 1 closes at PET 4:18; choices 2 and 3 close at PET 3:17. If nothing is decided at all: inside by ...``
    """
    closing: dict[str, list[str]] = {}
    for number, choice in enumerate(state.advice.choices, 1):
        if choice.decide_by_pet_min is not None:
            closing.setdefault(pet_named(choice.decide_by_pet_min), []).append(str(number))
    said = [
        f"choice {gone[0]} closes at {at}" if len(gone) == 1 else f"choices {listed(gone)} close at {at}"
        for at, gone in closing.items()
    ]
    then = inside(state.end, state.limit)
    closes = "; ".join(said)
    first = f"{closes[0].upper()}{closes[1:]}. " if closes else ""
    return f"{first}If nothing is decided at all: {then[0].lower()}{then[1:]}."


def goes_in_words(change: Change, named: Named = str) -> str:
    """Everything that a change does, in one sentence without a full stop.

    Parameters
    ----------
    change : Change
    named : callable
        Task or alternative -> how it is named.

    Returns
    -------
    str
        ``change nothing`` when it is empty.
    """
    return "; ".join(part.in_words(named) for part in change.parts()) or "change nothing"
