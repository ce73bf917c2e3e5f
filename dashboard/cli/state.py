"""The command `tetherline state`: how the sortie stands at one instant, in words or as JSON."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from rich.console import Console
from rich.table import Table
from rich.text import Text

from dashboard.cli.at import instant_at, is_pet
from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import instant_text, minutes_between
from dashboard.core.events.far_off import far_off, work_agrees
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.state.alert_onset import with_since
from dashboard.core.state.follow import follow
from dashboard.core.state.log_in_words import logbook
from dashboard.core.state.model import LaneState, SortieState, SuitState
from dashboard.log.logfile import LogRead, read_log
from dashboard.log.planfile import examine_plan
from dashboard.words import (
    NAMES,
    Towards,
    against,
    ahead,
    alert,
    between,
    chance,
    date,
    how_many,
    is_in,
    margin,
    or_why,
    pet,
    pet_named,
    suit_margin,
    utc_named,
    waits_for,
)

PIPED_WIDTH = 120
MOST_UNREAD = 20
SAME_ZERO_MIN = 0.5


def print_state(plan_path: Path, log_path: Path, at: str | None, as_json: bool) -> None:
    """Read plan and log and print the state; at the last event when `at` is None."""
    asked = ask_log(plan_path, log_path, at)
    state = follow(asked.plan, asked.events, asked.now, unread=asked.unread, mode="replay")
    state, _ = with_since(asked.plan, asked.events, state)
    if as_json:
        print(state.model_dump_json(indent=2))
        return
    print_parts(state_parts(state, decisions(asked)))


def decisions(asked: Asked) -> list[str]:
    """The decisions that count, oldest first, each with the events that came with it."""
    return [
        f"{pet_named(entry.pet_min)}: {entry.text}" + (f", by {entry.by}" if entry.by else "")
        for entry in logbook(asked.plan, asked.events, asked.now) if entry.kind == "decision" and entry.withdrawn_by is None
    ]


def print_parts(parts: Iterable[Any]) -> None:
    """Print texts and tables, folded to the width of the terminal."""
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPED_WIDTH
    console = Console(width=width, markup=False, highlight=False, emoji=False)
    for part in parts:
        console.print(part, overflow="fold")


def state_parts(state: SortieState, decided: list[str] | None = None) -> list[Any]:
    """The state as printable parts, in reading order, with the decisions in words."""
    return [
        *_band(state),
        *_end(state),
        _lanes(state),
        *_listed("Suits", _suits(state)),
        *_listed("Alerts", [alert(one) for one in state.alerts]),
        *_listed("Decisions", decided or []),
        *_listed(
            "Does not fit",
            [f"{d.event}: expected {d.expected}; found {d.found}" for d in state.discrepancies],
        ),
        *unread_parts(state.unread),
        Text(""),
        Text(state.advice.caution),
    ]


class Asked(NamedTuple):
    """A plan, what its log holds, and the instant asked about."""

    plan: Plan
    events: list[Any]
    unread: list[Unread]
    now: datetime


def ask_log(plan_path: Path, log_path: Path, at: str | None) -> Asked:
    """Plan, log and instant of a command; the instant is that of the last event when `at` is None.

    Raises
    ------
    InputError
        When plan or log cannot be used, when nothing of the log belongs to the plan, or when the time makes no sense.
    """
    plan = _plan_to_follow(plan_path)
    log = LogRead() if _holds_nothing(log_path) else read_log(log_path, plan)
    last = max((event.at for event in log.events), default=plan.sortie.start)
    record = reconcile(plan, log.events, last)
    warn(log.strange)
    if at is None:
        return Asked(plan, log.events, log.unread, _last_of_the_sortie(record, log.events, last))
    now = instant_at(at, record.pet_zero)
    known = reconcile(plan, log.events, now).pet_zero
    if is_pet(at) and abs(minutes_between(known, record.pet_zero)) > SAME_ZERO_MIN:
        found = f"'{at}', before the clock event that sets PET zero to {instant_text(record.pet_zero)}"
        cure = "Give a later PET; for a time before it give the instant, and PET counts from the planned start."
        raise InputError([Problem("option --at", "a PET that is known at its own time", found, cure)])
    return Asked(plan, log.events, log.unread, now)


def _plan_to_follow(plan_path: Path) -> Plan:
    """The plan; what its check does not pass, though it can be followed, is said on standard error."""
    plan, problems = examine_plan(plan_path)
    if plan is None:
        raise InputError(problems)
    for problem in problems:
        if problem.severity == "error":
            warn(problem)
    return plan


def warn(problem: Problem | None) -> None:
    """Say on standard error what is no reason to stop."""
    if problem is not None:
        print(f"warning: {problem.text()}", file=sys.stderr)


def _holds_nothing(log_path: Path) -> bool:
    """Whether the log is there and empty, as it is before the sortie; said on standard error."""
    if not log_path.is_file() or log_path.stat().st_size:
        return False
    print(f"{log_path}: the log holds no event yet", file=sys.stderr)
    return True


def _last_of_the_sortie(record: Record, events: list[Any], last: datetime) -> datetime:
    """The time of the last event, those left out, and named, that are dated far off the sortie."""
    plan, zero = record.plan, record.pet_zero
    agreed = work_agrees(plan, zero, events)
    odd = {e.id: said for e in events if (said := far_off(plan, zero, e, agreed=agreed)) is not None}
    near: list[datetime] = [event.at for event in events if event.id not in odd]
    if not odd or not near:
        return last
    name, said = next(iter(odd.items()))
    many = how_many(len(odd), "event")
    print(f"warning: {many} dated far off the sortie, not taken for its last; {name}: {said}.", file=sys.stderr)
    return max(near)


def unread_parts(unread: Sequence[Unread]) -> list[Text]:
    """What could not be understood, line by line, the first `MOST_UNREAD` of them."""
    lines = [f"{one.where or 'somewhere'}: {one.why} | {_short(one.line)}" for one in unread]
    more = len(lines) - MOST_UNREAD
    rest = [Text(f"  and {how_many(more, 'more line')}; tetherline state --json has them all")] if more > 0 else []
    return [*_listed("Could not be understood", lines[:MOST_UNREAD], len(lines)), *rest]


def _band(state: SortieState) -> list[Text]:
    title = f"{state.title} ({state.sortie})" if state.title else state.sortie
    ended = "ENDED. " if state.ended else ""
    basis = state.basis
    return [
        Text(title),
        Text(f"{ended}{pet_named(state.pet_min)}, {date(state.now)} {utc_named(state.now)}"),
        Text(f"Events that count: {basis.events}. PET zero: {basis.pet_zero_from}."),
        Text(""),
    ]


def _end(state: SortieState) -> list[Text]:
    end = state.end
    lines = [f"Limit: {pet_named(state.limit.pet_min)}, set by {state.limit.set_by}."]
    if end.actual_pet_min is not None:
        lines.append(f"{is_in(end)}.")
    else:
        lines.append(
            f"Projected end at plan pace: {pet_named(end.plan_pace_pet_min, 'up')}, {margin(end.margin_min)}."
        )
        why = state.not_known.get("end.in_by_limit")
        lines.append(f"In by the limit: {or_why(end.in_by_limit, chance, why)}.")
        if end.p10_pet_min is not None:
            lines.append(f"Expected end: P50 {pet_named(end.p50_pet_min, 'up')}, {between(end.p10_pet_min, end.p90_pet_min)}.")
        lines.append(f"Pace: {'; '.join(_pace(name, lane) for name, lane in state.lanes.items())}.")
    return [*(Text(line) for line in lines), Text("")]


def _pace(name: str, lane: LaneState) -> str:
    if lane.pace is None:
        return f"{name} {how_many(lane.pace_tasks, 'finished task')}, too few to tell"
    return f"{name} {against(lane.pace)} on what is briefed, from {how_many(lane.pace_tasks, 'finished task')}"


def _lanes(state: SortieState) -> Table:
    titles = {name: task.title or name for name, task in state.tasks.items()}
    towards: Towards = "nearest" if state.ended else "up"
    table = Table(box=None, pad_edge=False, header_style="")
    for column in ("Lane", "Ahead or behind", "Now", "Next", "", "Ends, PET"):
        table.add_column(column, overflow="fold")
    for name, lane in state.lanes.items():
        at_work = f"{lane.state}: {lane.task} {titles.get(lane.task, '')}" if lane.task else lane.state
        coming = f"{lane.next} {titles.get(lane.next, '')}" if lane.next else "nothing"
        waits = waits_for(lane.next_waits, titles) if lane.next_waits is not None else ""
        table.add_row(name, str(ahead(lane.ahead_min)), at_work, coming, waits, pet(lane.end_pet_min, towards))
    return table


def _suits(state: SortieState) -> list[str]:
    return [
        f"{name}: {NAMES[suit.limiting]} to {pet_named(suit.limit_pet_min)}, {suit_margin(suit.margin_min)}{_look_at(suit)}"
        for name, suit in state.suits.items()
        if suit.limiting is not None
    ]


def _look_at(suit: SuitState) -> str:
    odd = [f"{NAMES[name]}: {'; '.join(one.flags)}" for name, one in suit.consumables.items() if one.flags]
    return f"; look at {', '.join(odd)}" if odd else ""


def _listed(heading: str, lines: list[str], count: int | None = None) -> list[Text]:
    if not lines:
        return []
    return [Text(""), Text(f"{heading} ({len(lines) if count is None else count}):"), *(Text(f"  {line}") for line in lines)]


def _short(line: str) -> str:
    shown = " ".join(line.split())
    return shown if len(shown) <= 100 else shown[:97] + "..."
