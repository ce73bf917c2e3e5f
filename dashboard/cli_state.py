"""The command `tetherline state`: how the sortie stands at one instant, in words or as JSON."""

from __future__ import annotations

import os
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from dashboard.cli_at import instant_at
from dashboard.core.plan import Plan
from dashboard.core.reconcile import reconcile
from dashboard.core.sortie_state import LaneState, SortieState
from dashboard.core.state import follow
from dashboard.log.logfile import read_log
from dashboard.log.planfile import load_plan
from dashboard.words import (
    NAMES,
    against,
    ahead,
    between,
    chance,
    date,
    how_many,
    margin,
    or_why,
    pet,
    pet_named,
    suit_margin,
    utc_named,
    waits_for,
)

PIPED_WIDTH = 120


def print_state(plan_path: Path, log_path: Path, at: str | None, as_json: bool) -> None:
    """Read plan and log and print the state; at the last event when `at` is None."""
    plan = load_plan(plan_path)
    log = read_log(log_path, plan)
    now = instant_of_log(plan, log.events, at)
    state = follow(plan, log.events, now, unread=log.unread, mode="replay")
    if as_json:
        print(state.model_dump_json(indent=2))
        return
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPED_WIDTH
    console = Console(width=width, markup=False, highlight=False, emoji=False)
    for part in state_parts(state):
        console.print(part, overflow="fold")


def state_parts(state: SortieState) -> list[Any]:
    """The state as printable parts, in reading order."""
    return [
        *_band(state),
        *_end(state),
        _lanes(state),
        *_listed("Suits", _suits(state)),
        *_listed("Alerts", [f"{alert.what}. {alert.do}" for alert in state.alerts]),
        *_listed(
            "Does not fit",
            [f"{d.event}: expected {d.expected}; found {d.found}" for d in state.discrepancies],
        ),
        *_listed(
            "Could not be understood",
            [
                f"{unread.where or 'somewhere'}: {unread.why} | {_short(unread.line)}"
                for unread in state.unread
            ],
        ),
        Text(""),
        Text(state.advice.caution),
    ]


def instant_of_log(plan: Plan, events: list[Any], at: str | None) -> datetime:
    """The instant asked for; that of the last event when none is."""
    last = max((event.at for event in events), default=plan.sortie.start)
    if at is None:
        return last
    return instant_at(at, reconcile(plan, events, last).pet_zero)


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
        lines.append(f"End: {pet_named(end.actual_pet_min)}, {margin(end.margin_min)}.")
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
    table = Table(box=None, pad_edge=False, header_style="")
    for column in ("Lane", "Ahead or behind", "Now", "Next", "", "Ends, PET"):
        table.add_column(column, overflow="fold")
    for name, lane in state.lanes.items():
        at_work = f"{lane.state}: {lane.task} {titles.get(lane.task, '')}" if lane.task else lane.state
        coming = f"{lane.next} {titles.get(lane.next, '')}" if lane.next else "nothing"
        waits = waits_for(lane.next_waits, titles) if lane.next_waits is not None else ""
        table.add_row(name, str(ahead(lane.ahead_min)), at_work, coming, waits, pet(lane.end_pet_min, "up"))
    return table


def _suits(state: SortieState) -> list[str]:
    return [
        f"{name}: {NAMES[suit.limiting]} to {pet_named(suit.limit_pet_min)}, {suit_margin(suit.margin_min)}"
        for name, suit in state.suits.items()
        if suit.limiting is not None
    ]


def _listed(heading: str, lines: list[str]) -> list[Text]:
    if not lines:
        return []
    return [Text(""), Text(f"{heading} ({len(lines)}):"), *(Text(f"  {line}") for line in lines)]


def _short(line: str) -> str:
    shown = " ".join(line.split())
    return shown if len(shown) <= 100 else shown[:97] + "..."
