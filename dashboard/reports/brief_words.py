"""The words of a brief, for every writer of it: page, paper, cuff pages and the command line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dashboard import words
from dashboard.core.brief.facts import (
    Before,
    Brief,
    BriefChange,
    BriefStep,
    BriefWait,
    Decision,
    Ending,
    LaneThen,
    Wait,
)
from dashboard.story import reconciled

SHORTEST_WAIT_MIN = 5.0
MOST_NAMED = 4  # tasks that go along with another; more are only counted


def named(facts: Brief, task: str) -> str:
    """A task with its title: ``T060 Set up the foothold``.

    Parameters
    ----------
    facts
        They hold the titles.
    task
        Id of a task of the plan.

    Returns
    -------
    str
    """
    return f"{task} {facts.titles().get(task, '')}".strip()


def span(begin: float, end: float) -> str:
    """From when to when, for a column whose heading says PET: ``1:50 to 2:20``.

    Parameters
    ----------
    begin, end
        PET minutes.

    Returns
    -------
    str
    """
    return f"{words.pet(begin, 'nearest')} to {words.pet(end, 'nearest')}"


def lengths(low: float, likely: float, high: float) -> str:
    """A three-point length: ``30 min (20 to 50)``; ``30 min`` without a range.

    Parameters
    ----------
    low, likely, high
        Minutes.

    Returns
    -------
    str
    """
    said = words.duration(likely)
    return said if low == high else f"{said} ({words.whole(low, 'nearest')} to {words.whole(high, 'nearest')})"


def minutes(low: float, likely: float, high: float) -> str:
    """A three-point length, for a column whose heading says minutes: ``30 (20 to 50)``.

    Parameters
    ----------
    low, likely, high
        Minutes.

    Returns
    -------
    str
    """
    return str(words.whole(likely, "nearest")) + lengths(low, likely, high).removeprefix(words.duration(likely))


def joint(facts: Brief, lanes: Sequence[str], lane: str) -> str:
    """Who works together with a lane: ``with EV2 and ARM``; empty: it works alone.

    Parameters
    ----------
    facts
        They hold the order of the lanes.
    lanes
        Those of the task.
    lane
        The one whose column it is.

    Returns
    -------
    str
    """
    others = [name for name in facts.lanes if name in lanes and name != lane]
    return f"with {words.listed(others)}" if others else ""


def waited_for(facts: Brief, wait: Wait | None) -> str:
    """What a lane waits for, as briefed.

    Parameters
    ----------
    facts
        They hold titles and lanes.
    wait
        None: the lane does not wait.

    Returns
    -------
    str
        ``waits for ARM: T190 Arm lifts the tray``, ``waits for daylight``, ``nothing briefed`` when nothing is waited for.
    """
    if wait is None:
        return ""
    match wait.kind:
        case "task":
            lanes = next((step.lanes for step in facts.steps if step.task == wait.name), [])
            return f"waits for {words.listed(lanes)}: {named(facts, wait.name or '')}" if lanes else f"waits for {wait.name}"
        case "lane" | "window":
            return f"waits for {wait.name}"
        case "not before":
            return "waits for the time from which the next task may begin"
        case _:
            return "nothing briefed"


def then(facts: Brief, at: LaneThen) -> str:
    """What a lane does when a step begins, and where.

    Parameters
    ----------
    facts
        They hold titles and worksites.
    at
        The lane then.

    Returns
    -------
    str
        Without the name of the lane.
    """
    until = "" if at.until_pet_min is None else f", until {words.pet_named(at.until_pet_min, 'nearest')}"
    if at.going_to is not None:
        left = f" from {facts.place(at.worksite)}" if at.worksite else ""
        return f"{named(facts, at.task or '')}{left} to {facts.place(at.going_to)}{until}"
    place = f" ({facts.place(at.worksite)})" if at.worksite else ""
    if at.task is not None:
        return f"{named(facts, at.task)}{place}{until}"
    return f"{waited_for(facts, at.wait) or ('nothing briefed yet' if until else 'nothing more briefed')}{place}{until}"


def who_is_where(facts: Brief, step: BriefStep) -> list[tuple[list[str], str]]:
    """What every lane does when a step begins; lanes that do the same are named together.

    Parameters
    ----------
    facts
        They hold titles and worksites.
    step
        A step of the brief.

    Returns
    -------
    list of (list of str, str)
        Lanes, and what they do and where. The lanes of the step come first.
    """
    found: dict[str, list[str]] = {}
    for lane in sorted(facts.lanes, key=lambda name: name not in step.lanes):
        found.setdefault(then(facts, step.lanes_then[lane]), []).append(lane)
    return [(lanes, what.replace(named(facts, step.task), "this step", 1)) for what, lanes in found.items()]


def before(facts: Brief, links: Sequence[Before]) -> str:
    """What a step comes after.

    Parameters
    ----------
    facts
        Not needed beyond the ids: titles would make the line long.
    links
        In the order of the plan file.

    Returns
    -------
    str
        ``needs T060, T070; follows T080 by 5 min``; empty: nothing.
    """
    needed = [one.task for one in links if one.needed]
    order = [f"{one.task} by {words.duration(one.lag_min)}" if one.lag_min else one.task for one in links if not one.needed]
    said = [f"needs {', '.join(needed)} done"] if needed else []
    return "; ".join([*said, *([f"follows {', '.join(order)}"] if order else [])])


def windows(step: BriefStep) -> str:
    """The windows that a step needs, and by when it must begin in each.

    Parameters
    ----------
    step
        A step of the brief.

    Returns
    -------
    str
        Empty: it needs none.
    """
    said = []
    for one in step.windows:
        again = f"; {_next_window(one.next_from_pet_min)}"
        if one.start_by_pet_min is None or one.from_pet_min is None or one.to_pet_min is None:
            said.append(f"no window of {one.kind} holds it as briefed{again}")
        else:
            held = f"PET {words.pet(one.from_pet_min, 'up')} to {words.pet(one.to_pet_min)}"
            said.append(f"{one.kind} {held}: begin by {words.pet_named(one.start_by_pet_min)}{again}")
    return "; ".join(said)


def _next_window(pet_min: float | None) -> str:
    return "there is no later one" if pet_min is None else f"the next is from {words.pet_named(pet_min, 'up')}"


def give_up(step: BriefStep) -> str:
    """How a step may be given up, and until when.

    Parameters
    ----------
    step
        A step of the brief.

    Returns
    -------
    str
        Empty: in no way.
    """
    one, said = step.give_up, []
    if one.defer:
        by = f" until {words.pet_named(one.decide_by_pet_min)}" if one.decide_by_pet_min is not None else ""
        names = words.listed(one.with_it) if len(one.with_it) <= MOST_NAMED else f"{len(one.with_it)} more tasks"
        said.append(f"may be deferred{by}{f' (with it {names})' if names else ''}")
    said += [f"may be {cut}" for cut in _cuts(step)]
    if one.hand_over_to:
        said.append(f"may be handed to {words.listed(one.hand_over_to)}")
    return "; ".join(said)


def _cuts(step: BriefStep) -> list[str]:
    """How a step may still be cut short once it has begun."""
    trim, closeout = step.give_up.trim_to_min, step.give_up.break_off_closeout_min
    trimmed = [] if trim is None else [f"trimmed to {words.duration(trim)}"]
    return trimmed if closeout is None else [*trimmed, f"broken off with {words.duration(closeout)} to leave it safe"]


def contingency(facts: Brief, name: str) -> str:
    """A contingency in one line: its trigger, its name, and how many steps it has.

    Parameters
    ----------
    facts
        They hold the contingencies.
    name
        Its id.

    Returns
    -------
    str
    """
    one = next(found for found in facts.contingencies if found.contingency == name)
    what = one.trigger or one.title or one.contingency
    return f"{what}: contingency {one.contingency} ({words.how_many(len(one.steps), 'step')})"


def ending(one: Ending) -> str:
    """An open ending, its options, and by when it is decided.

    Parameters
    ----------
    one
        An ending of the brief.

    Returns
    -------
    str
    """
    options = [
        f"{option}{' (as briefed)' if option == one.default else ''}: {', '.join(tasks) or 'no task'}"
        for option, tasks in one.options.items()
    ]
    by = f" Decide by {words.pet_named(one.decide_by_pet_min)}, {one.decide_by}." if one.decide_by_pet_min is not None else ""
    return f"{one.title or one.alternative}: {'; '.join(options)}.{by}"


def endings_at(facts: Brief, step: BriefStep) -> list[str]:
    """What is said at a step of the endings that are open there.

    Parameters
    ----------
    facts
        They hold the endings.
    step
        A step of the brief.

    Returns
    -------
    list of str
        The endings that its begin decides, and the option that it belongs to.
    """
    said = [ending(one) for one in facts.endings if one.alternative in step.endings_open]
    if step.alternative is not None and step.alternative not in step.endings_open:
        said.append(f"belongs to option {step.option} of {step.alternative}")
    if not step.is_default:
        said.append("not in the plan unless that option is taken")
    return said


def fills(facts: Brief, wait: BriefWait) -> str:
    """What fits into a wait.

    Parameters
    ----------
    facts
        They hold the titles.
    wait
        A wait of the brief.

    Returns
    -------
    str
        Empty: nothing.
    """
    how = {"get-ahead": "get-ahead", "hand over": "handed over", "bring forward": "brought forward"}
    return "; ".join(f"{named(facts, one.task)} ({how[one.how]}, {words.duration(one.min)})" for one in wait.fills)


def shown_waits(facts: Brief) -> list[BriefWait]:
    """The waits that a document shows: those of some length, and those into which something fits.

    Parameters
    ----------
    facts
        They hold the waits.

    Returns
    -------
    list of BriefWait
        Without those up to `SHORTEST_WAIT_MIN` for which nothing is waited and into which nothing fits.
    """
    return [
        one for one in facts.waits
        if one.fills or one.to_pet_min - one.from_pet_min > SHORTEST_WAIT_MIN or one.wait.kind != "no reason"
    ]


def decision(facts: Brief, one: Decision) -> tuple[str, str]:
    """A decision point: what is decided, and what follows.

    Parameters
    ----------
    facts
        They hold titles and endings.
    one
        Of the brief.

    Returns
    -------
    (str, str)
    """
    match one.kind:
        case "ending":
            found = next(end for end in facts.endings if end.alternative == one.name)
            options = words.listed([f"{name}{' (as briefed)' if name == found.default else ''}" for name in found.options])
            return f"Ending: {found.title or found.alternative}", f"{options}; {one.detail}"
        case "window":
            return f"{named(facts, one.name)} begun", f"else {one.detail} is missed; {_next_window(one.next_pet_min)}"
        case "leave by":
            return f"{facts.place(one.name)} left", one.detail
        case "turn back":
            return f"Turn back: {words.listed(one.name.split())}", one.detail
        case _:
            step = next(step for step in facts.steps if step.task == one.name)
            left = " or ".join(_cuts(step))
            return f"Give up {named(facts, one.name)}", f"then it may only be {left}" if left else "then it stays"


def promise(facts: Brief) -> Iterator[str]:
    """When the crew is in by the plan, how sure that is, and against which limit: one sentence each.

    Parameters
    ----------
    facts
        Of the plan.

    Yields
    ------
    str
    """
    end = facts.end
    if end.briefed_pet_min is not None:
        yield f"Briefed end: {words.pet_named(end.briefed_pet_min, 'nearest')}."
    yield f"Limit: {words.pet_named(facts.limit.pet_min)}, set by {facts.limit.set_by}."
    if end.p50_pet_min is not None:
        spread = words.between(end.p10_pet_min, end.p90_pet_min)
        yield f"Expected end: {words.pet_named(end.p50_pet_min, 'up')} (P50), {spread}."
    if end.in_by_limit is not None:
        yield f"As briefed {words.chance(end.in_by_limit)} likely inside by the limit; wanted {words.chance(facts.confidence)}."
    if why := reconciled(end, facts.limit, facts.confidence):
        yield why


def change(one: BriefChange) -> tuple[str, str]:
    """A change against the last issue: what it is about, and what changed.

    Parameters
    ----------
    one
        Of the comparison.

    Returns
    -------
    (str, str)
    """
    about = f"{one.part} {one.name} {one.title}".strip() if one.name else one.part
    if one.kind in ("added", "removed"):
        return about, one.kind
    if not one.before:
        return about, f"{one.field} now given: {one.after}"
    if not one.after:
        return about, f"{one.field} no longer given, before: {one.before}"
    what = f"{one.field} changed" if one.kind == "changed" else one.kind
    return about, f"{what} from {one.before} to {one.after}"


def spoken(facts: Brief, step: BriefStep) -> list[tuple[str, str]]:
    """What is said of a step, each under its word: notes, what is before it, windows, contingencies, endings, the way back.

    Parameters
    ----------
    facts
        The brief.
    step
        One of its steps.

    Returns
    -------
    list of (str, str)
        The word, and what is said. Only a contingency needs its word to be understood.
    """
    found = [("Notes", step.notes), ("Before it", before(facts, step.comes_after)), ("Windows", windows(step))]
    if step.not_before_pet_min is not None:
        found.append(("Not before", f"not before {words.pet_named(step.not_before_pet_min, 'up')}"))
    found += [("If", contingency(facts, name)) for name in step.contingencies]
    found += [("Ending", said) for said in endings_at(facts, step)]
    if step.latest_start_pet_min is not None:
        found.append(("Latest start", f"begin by {words.pet_named(step.latest_start_pet_min)} to be in by the limit"))
    found.append(("Giving up", give_up(step)))
    if step.leave_by_pet_min is not None and step.back_min:
        back = f"{words.duration(step.back_min, 'up')} back"
        found.append(("Way back", f"{back}; leave {facts.place(step.worksite)} by {words.pet_named(step.leave_by_pet_min)}"))
    return [(word, said) for word, said in found if said]
