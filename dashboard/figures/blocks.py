"""The blocks of the lane sheet: for each task its blocks, with place, form and texts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, groupby
from typing import Literal

from dashboard import story, words
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, DONE, IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.state.model import SortieState, TaskState
from dashboard.figures.columns import BLOCK_LEFT, BLOCK_RIGHT, NEST, runs
from dashboard.markup import LINE_BREAK, Markup, figure_text, joined, tag

Form = Literal[
    "done", "work", "work rest", "hold", "held", "projected", "broken off", "close-out", "deferred"
]

WORDS: Mapping[str, str] = {"hold": "on hold", "broken off": "broken off", "deferred": "deferred"}
LEAST_HELD_MIN = 4.0  # a shorter part of a hold is not drawn
MOST_NESTS = 3
LEAST_DRAWN_MIN = 1.0  # height of a task without length
LEAST_GHOST_MIN = 6.0  # a deferred task is drawn only if this much of its briefed time is free
LATE_SHOWN_MIN = 2.0  # least difference that is shown for an actual start
STARTS_LATE_SHOWN_MIN = 5.0  # the same for a projected start: a smaller one is normal


@dataclass(frozen=True)
class Block:
    """One block: an interval of time in neighbouring columns. All times are PET minutes."""

    task: str
    form: Form
    first: int
    last: int
    start: float
    end: float
    title: str
    second: str
    right: str
    hover: Markup
    struck: bool = False
    by_choice: str = ""  # the choice that gives it up: ``choice 1``
    labelled: bool = True
    nest: int = 0
    outline_end: float | None = None  # for work: end of the strong edge around finished and remaining work
    room_end: float | None = None  # how far down its text may go, if beyond its end
    briefed_start: float | None = None  # set on the first block of a task only
    spread: tuple[float, float] | None = None  # P10 and P90 of its end

    @property
    def word(self) -> str:
        """The word that is always shown with the title, even with little room; empty when there is none."""
        return WORDS.get(self.form, self.by_choice)

    @property
    def x0(self) -> float:
        """Left edge, in units of a column."""
        return self.first + BLOCK_LEFT + NEST * self.nest

    @property
    def x1(self) -> float:
        """Right edge, in units of a column."""
        return self.last + BLOCK_RIGHT


BlockMaker = Callable[..., Block]  # from form, start, end, second line, right text


def blocks_of(state: SortieState, order: Sequence[str]) -> list[Block]:
    """Make every block of the lane sheet.

    Parameters
    ----------
    state : SortieState
    order : sequence of str
        The lanes from left to right.

    Returns
    -------
    list of Block
        In drawing order: blocks that begin earlier come first and lie below.
    """
    place = {lane: at for at, lane in enumerate(order)}
    given_up = _given_up(state)
    titles = {name: task.title for name, task in state.tasks.items()}
    found: list[Block] = []
    for task_id, task in state.tasks.items():
        stretches = _stretches(task_id, task, state, given_up, _hover(task_id, task, state, titles))
        halves = runs(task.lanes, place)
        for number, (first, last) in enumerate(halves):
            others = [lane for lane in task.lanes if not first <= place.get(lane, first) <= last]
            together = f"with {words.listed(others)}, " if others else ""
            for block in stretches:
                briefed = block.briefed_start if number == 0 else None
                second = together + block.second
                found.append(replace(block, first=first, last=last, briefed_start=briefed, second=second))
    solid = [b for b in found if b.form != "deferred"]
    solid.sort(key=lambda b: (b.start, -(b.end - b.start)))
    ghosts = [g for b in found if b.form == "deferred" for g in _where_free(b, solid)]
    return ghosts + _nested(_held_clipped(solid))


def out_of_sortie(state: SortieState) -> list[tuple[str, str, str]]:
    """The tasks that this sortie does not do.

    Parameters
    ----------
    state
        Tasks that are not finished count only once the sortie has ended.

    Returns
    -------
    list of (str, str, str)
        Id and title of the task, and the word for the reason.
    """
    found = []
    for name, task in state.tasks.items():
        if task.state == DEFERRED:
            found.append((name, task.title, "deferred"))
        elif task.state == BROKEN_OFF:
            found.append((name, task.title, "broken off"))
        elif state.ended and task.state == NOT_STARTED and task.in_plan and not task.get_ahead:
            found.append((name, task.title, "not started"))
        elif state.ended and task.state in (IN_WORK, ON_HOLD):
            found.append((name, task.title, "not finished"))
    return found


def _given_up(state: SortieState) -> dict[str, tuple[str, str]]:
    """For each task that the choice of the call gives up: that choice, and what it does. Empty when nobody is called."""
    found = story.choice_of_call(state.advice)
    if not state.advice.needed or state.advice.call == "none" or found is None:
        return {}
    number, choice = found
    return {
        **dict.fromkeys(choice.defer, (f"choice {number}", "defers this")),
        **dict.fromkeys(choice.break_off, (f"choice {number}", "breaks this off")),
    }


def _stretches(
    task_id: str, task: TaskState, state: SortieState, given_up: Mapping[str, tuple[str, str]], hover: Markup
) -> list[Block]:
    """The blocks of one task in time. Their columns are set later."""
    title = task.title or task_id

    def make(form: Form, start: float, end: float, second: str = "", right: str = "") -> Block:
        spread = None
        if (
            form in ("projected", "work rest")
            and task.p10_pet_min is not None
            and task.p90_pet_min is not None
        ):
            spread = (task.p10_pet_min, task.p90_pet_min)
        return Block(
            task=task_id,
            form=form,
            first=0,
            last=0,
            start=start,
            end=max(end, start + LEAST_DRAWN_MIN),
            title=title,
            second=second,
            right=right,
            hover=hover,
            briefed_start=task.briefed_start_pet_min,
            spread=spread,
            struck=form in ("broken off", "deferred"),
        )

    if not task.in_plan and task.state == NOT_STARTED:
        return []
    if task.state == NOT_STARTED:
        return [_projected(make, task, given_up.get(task_id))] if _is_projected(task) else []
    if task.state == DEFERRED:
        return _deferred(make, task)
    if task.state == DONE:
        return _done(make, task)
    if task.state == BROKEN_OFF:
        return _broken_off(make, task)
    if task.state == IN_WORK:
        return _in_work(make, task, state.pet_min, given_up.get(task_id))
    return _on_hold(make, task, state.pet_min)


def _is_projected(task: TaskState) -> bool:
    known = task.projected_start_pet_min is not None and task.projected_finish_pet_min is not None
    return known and not task.get_ahead


def _late(start: float | None, task: TaskState, least: float = LATE_SHOWN_MIN) -> float | None:
    if start is None or task.briefed_start_pet_min is None:
        return None
    late = start - task.briefed_start_pet_min
    return late if abs(late) >= least else None


def _briefed_min(task: TaskState) -> float:
    if task.briefed_finish_pet_min is None or task.briefed_start_pet_min is None:
        return task.planned_min
    return task.briefed_finish_pet_min - task.briefed_start_pet_min


def _origin(task: TaskState) -> str:
    return "" if task.origin == "briefed" else f"{task.origin}, "


def _projected(make: BlockMaker, task: TaskState, given_up: tuple[str, str] | None) -> Block:
    start, end = task.projected_start_pet_min or 0.0, task.projected_finish_pet_min or 0.0
    length = words.duration(task.remaining_min if task.remaining_min is not None else end - start)
    briefed = words.whole(_briefed_min(task), "nearest")
    changed = "trimmed to " if task.trimmed else "extended to " if task.extended else ""
    second = f"{_origin(task)}{changed}{length}" + (f", briefed {briefed}" if changed else "")
    if task.window_missed:
        second = f"no {' or '.join(task.window_missed)} left that holds it"
    block: Block = make(
        "projected", start, end, " ".join(given_up or (second,)), words.starts(_late(start, task, STARTS_LATE_SHOWN_MIN))
    )
    return replace(block, struck=given_up is not None, by_choice="" if given_up is None else given_up[0])


def _done(make: BlockMaker, task: TaskState) -> list[Block]:
    if task.finish_pet_min is None:
        return []
    start = task.start_pet_min if task.start_pet_min is not None else task.finish_pet_min - task.planned_min
    second = _origin(task) + words.took(task.worked_min, _briefed_min(task))
    held = 0.0 if task.worked_min is None else task.finish_pet_min - start - task.worked_min
    if held >= LATE_SHOWN_MIN:
        second += f", {words.duration(held)} on hold"
    return [make("done", start, task.finish_pet_min, second, words.began(_late(task.start_pet_min, task)))]


def _broken_off(make: BlockMaker, task: TaskState) -> list[Block]:
    if task.finish_pet_min is None:
        return []
    start = (
        task.start_pet_min
        if task.start_pet_min is not None
        else task.finish_pet_min - (task.worked_min or 0.0)
    )
    worked = (
        words.NOT_KNOWN if task.worked_min is None else words.worked_of(task.worked_min, task.planned_min)
    )
    blocks = [
        make(
            "broken off", start, task.finish_pet_min, f"broken off, {worked}", words.began(_late(start, task))
        )
    ]
    until = task.close_out_until_pet_min
    if until is not None and until > task.finish_pet_min:
        close_out = make("close-out", task.finish_pet_min, until, f"until {words.pet_named(until, 'up')}")
        blocks.append(replace(close_out, title=f"Close-out: {task.title}", struck=False, briefed_start=None))
    return blocks


def _in_work(make: BlockMaker, task: TaskState, now: float, given_up: tuple[str, str] | None) -> list[Block]:
    start = task.start_pet_min if task.start_pet_min is not None else now - (task.worked_min or 0.0)
    second = _origin(task) + words.worked_of(task.worked_min, task.planned_min)
    if task.estimate_min is not None:
        second = f"{words.to_go(task.estimate_min)} by estimate"
    finish = max(now, task.projected_finish_pet_min or now)
    block: Block = make("work", start, now, " ".join(given_up or (second,)), words.began(_late(task.start_pet_min, task)))
    blocks = [
        replace(
            block, outline_end=(whole := max(finish, block.end)), room_end=whole, struck=given_up is not None,
            by_choice="" if given_up is None else given_up[0],
        )
    ]
    if finish > now:
        rest: Block = make("work rest", now, finish)
        blocks.append(replace(rest, labelled=False, briefed_start=None))
    return blocks


def _on_hold(make: BlockMaker, task: TaskState, now: float) -> list[Block]:
    """Blocks of a task on hold: work so far, the hold until now, and the remaining work where it is projected."""
    start = task.start_pet_min if task.start_pet_min is not None else now - (task.worked_min or 0.0)
    stopped = min(now, start + (task.worked_min or 0.0) if task.hold_since_pet_min is None else task.hold_since_pet_min)
    reason = f": {task.hold_reason}" if task.hold_reason else ""
    worked = words.worked_of(task.worked_min, task.planned_min)
    block: Block = make(
        "hold", start, stopped, f"on hold{reason}, {worked}", words.began(_late(task.start_pet_min, task))
    )
    blocks = [replace(block, room_end=max(now, block.end))]
    if now > stopped:
        held: Block = make("held", stopped, now, f"since {words.pet_named(stopped)}{reason}")
        blocks.append(replace(held, title=f"On hold: {task.title}", briefed_start=None))
    if _is_projected(task) or task.projected_finish_pet_min is not None:
        begin = max(now, task.projected_start_pet_min or now)
        rest: Block = make(
            "projected", begin, task.projected_finish_pet_min, words.to_go(task.remaining_min)
        )
        blocks.append(replace(rest, title=f"Resume: {task.title}", briefed_start=None))
    return blocks


def _deferred(make: BlockMaker, task: TaskState) -> list[Block]:
    if task.briefed_start_pet_min is None or task.briefed_finish_pet_min is None:
        return []
    second = f"deferred, {words.duration(_briefed_min(task))}"
    ghost: Block = make("deferred", task.briefed_start_pet_min, task.briefed_finish_pet_min, second)
    return [replace(ghost, briefed_start=None)]


def _overlap(one: Block, other: Block) -> bool:
    """Whether two blocks share a column for longer than `LEAST_DRAWN_MIN`."""
    in_columns = one.first <= other.last and other.first <= one.last
    return in_columns and min(one.end, other.end) - max(one.start, other.start) > LEAST_DRAWN_MIN


def free_stretches(
    start: float, end: float, taken: Iterable[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Subtract intervals from an interval.

    Parameters
    ----------
    start, end : float
        The interval, minutes.
    taken : iterable of (float, float)
        The intervals to subtract. They may overlap.

    Returns
    -------
    list of (float, float)
        What is left, in order, without empty intervals.
    """
    free, at = [], start
    for begin, finish in sorted(taken):
        if begin > at:
            free.append((at, min(begin, end)))
        at = max(at, finish)
    if at < end:
        free.append((at, end))
    return [(a, b) for a, b in free if b > a]


def _where_free(ghost: Block, solid: Sequence[Block]) -> list[Block]:
    """The block of a deferred task, in the longest free part of its briefed time; empty when that is too short."""
    taken = [(b.start, b.end) for b in solid if _overlap(ghost, b)]
    longest = max(free_stretches(ghost.start, ghost.end, taken), key=lambda s: s[1] - s[0], default=None)
    if longest is None or longest[1] - longest[0] < LEAST_GHOST_MIN:
        return []
    return [replace(ghost, start=longest[0], end=longest[1])]


def _held_clipped(solid: Sequence[Block]) -> list[Block]:
    """Limit each hold, per lane, to the time in which the lane did nothing else."""
    result: list[Block] = []
    for block in solid:
        if block.form != "held":
            result.append(block)
            continue
        remains = _free_of_work(block, solid)
        joined = [r for r in remains if (r.first, r.last, r.start) == (block.first, block.last, block.start)]
        room_end = joined[0].end if joined else None  # the text of the work before it may extend into the hold
        result = [replace(b, room_end=room_end) if _is_work_before(b, block) else b for b in result]
        result += [replace(r, labelled=r not in joined) for r in remains]
    return result


def _is_work_before(block: Block, held: Block) -> bool:
    return (block.task, block.form, block.first) == (held.task, "hold", held.first)


def _free_of_work(held: Block, solid: Sequence[Block]) -> list[Block]:
    """The parts of a hold in which the lane is free. Neighbouring lanes with the same parts share a block."""
    remains: dict[int, list[tuple[float, float]]] = {}
    for column in range(held.first, held.last + 1):
        alone = replace(held, first=column, last=column)
        taken = [(b.start, b.end) for b in solid if b.form != "held" and _overlap(alone, b)]
        free = free_stretches(held.start, held.end, taken)
        remains[column] = [(a, b) for a, b in free if b - a >= LEAST_HELD_MIN]
    found: list[Block] = []
    for _, columns in groupby(remains, key=lambda column: remains[column]):
        together = list(columns)
        for start, end in remains[together[0]]:
            found.append(replace(held, first=together[0], last=together[-1], start=start, end=end))
    return found


def _nested(solid: Sequence[Block]) -> list[Block]:
    """Indent each block that overlaps an earlier one, so that both are visible."""
    result: list[Block] = []
    nests: dict[str, int] = {}
    first_starts = list(accumulate((b.start for b in reversed(solid)), min))[::-1]  # earliest start from each block on
    reaching: list[Block] = []  # earlier blocks that may overlap this block or a later one
    for block, first_start in zip(solid, first_starts, strict=True):
        reaching = [b for b in reaching if b.end - first_start > LEAST_DRAWN_MIN]
        around = [b.nest for b in reaching if b.task != block.task and _overlap(b, block)]
        nest = nests.setdefault(block.task, min(MOST_NESTS, max(around, default=-1) + 1))
        result.append(replace(block, nest=nest))
        reaching.append(result[-1])
    return result


def _hover(task_id: str, task: TaskState, state: SortieState, titles: Mapping[str, str]) -> Markup:
    """The text shown on pointing at a task: its state, its times, and the events that the figures rest on."""
    pet = words.pet
    head = tag("b", figure_text(task.title or task_id)) + figure_text(f" ({task_id})")
    origin = "" if task.origin == "briefed" else f", {task.origin}"
    lines = [f"{task.state}, {words.listed(task.lanes)}{origin}"]
    briefed = (
        "none"
        if task.briefed_start_pet_min is None
        else (f"PET {pet(task.briefed_start_pet_min)} to {pet(task.briefed_finish_pet_min)}")
    )
    lines.append(f"briefed: {briefed}, {words.duration(_briefed_min(task))}")
    if task.start_pet_min is not None:
        until = "" if task.finish_pet_min is None else f" to {pet(task.finish_pet_min)}"
        lines.append(
            f"actual: PET {pet(task.start_pet_min)}{until}, {words.duration(task.worked_min)} of work"
        )
    elif task.finish_pet_min is not None:
        lines.append(f"actual: start not known, over at PET {pet(task.finish_pet_min)}")
    if task.finish_pet_min is None and task.projected_finish_pet_min is not None:
        lines.append(
            f"projected at plan pace: PET {pet(task.projected_start_pet_min)}"
            f" to {pet(task.projected_finish_pet_min, 'up')}"
        )
        spread = words.between(task.p10_pet_min, task.p90_pet_min)
        lines.append(f"end: {spread}" if task.p10_pet_min is not None else f"spread of the end: {spread}")
    if task.finish_pet_min is None and task.float_min is not None:
        lines.append(
            f"can slip {words.duration(max(0.0, task.float_min), 'down')}, "
            f"latest start {words.pet_named(task.latest_start_pet_min)}"
        )
    lines += [said for said in (words.waits_for(task.waits, titles, state.tasks), task.why_out) if said]
    events = ", ".join(task.events[-4:])
    rests = f"{'...' if len(task.events) > 4 else ''}{events}" if events else "no event yet"
    lines.append(f"from: {rests}; {state.basis.plan}; as of PET {pet(state.pet_min)}")
    return joined([head, *map(figure_text, lines)], LINE_BREAK)
