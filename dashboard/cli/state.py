"""The command `tetherline state`: how the sortie stands at one instant, in words or as JSON."""

from __future__ import annotations

from typing import Annotated, Any

import typer
from rich.table import Table
from rich.text import Text

from dashboard.cli.asked import Asked, ask_log
from dashboard.cli.options import At, LogFile, PlanFile, single_command
from dashboard.cli.printing import listed, show, unread_parts
from dashboard.core.record.fold import reconcile
from dashboard.core.state.alert_onset import with_since
from dashboard.core.state.follow import follow
from dashboard.core.state.log_in_words import logbook
from dashboard.core.state.model import LaneState, SortieState, SuitState
from dashboard.core.state.with_call import with_call
from dashboard.story import call_lines, cause, expected_pet_min, inside, reconciled, suit_lasts
from dashboard.words import (
    NAMES,
    NOT_KNOWN,
    Towards,
    ahead,
    alert,
    at_plan_pace,
    between,
    date,
    duration,
    how_many,
    pace,
    pet,
    pet_named,
    utc_named,
    waits_for,
    which_end,
)

app = single_command()


@app.command()
def state(
    plan: PlanFile,
    log: LogFile,
    at: At = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole state as JSON.")] = False,
) -> None:
    """Print how the sortie stands; at its last event when no time is given."""
    asked = ask_log(plan, log, at)
    found = follow(asked.plan, asked.events, asked.now, unread=asked.unread, mode="replay")
    found, _ = with_since(asked.plan, asked.events, found)
    found = with_call(found, reconcile(asked.plan, asked.events, asked.now))
    if as_json:
        print(found.model_dump_json(indent=2))
        return
    show(*_state_parts(found, _decisions(asked)))


def _decisions(asked: Asked) -> list[str]:
    """The decisions that count, in words, oldest first, each with the events that were recorded together with it."""
    return [
        f"{pet_named(entry.pet_min)}: {entry.text}" + (f", by {entry.by}" if entry.by else "")
        for entry in logbook(asked.plan, asked.events, asked.now) if entry.kind == "decision" and entry.withdrawn_by is None
    ]


def _state_parts(state: SortieState, decided: list[str] | None = None) -> list[Any]:
    """The state as printable parts, in reading order. `decided` holds the decisions in words."""
    return [
        *_band(state),
        *_end(state),
        _lanes(state),
        *listed("Way back", _way_back(state)),
        *listed("Suits", _suits(state)),
        *listed("Call", call_lines(state.advice)),
        *listed("Alerts", [alert(one) for one in state.alerts if one.level == "alert"]),
        *listed("Notes", [alert(one) for one in state.alerts if one.level == "note"]),
        *listed("Decisions", decided or []),
        *listed(
            "Does not fit",
            [f"{d.event}: expected {d.expected}; found {d.found}" for d in state.discrepancies],
        ),
        *unread_parts(state.unread),
        Text(""),
        Text(state.advice.caution),
    ]


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
    lines = [f"{inside(end, state.limit)}.", f"Limit: {pet_named(state.limit.pet_min)}, set by {state.limit.set_by}."]
    if end.actual_pet_min is not None:
        lines.append(f"Sortie closed at {pet_named(end.closed_pet_min, 'nearest')}.")
    else:
        if said := cause(end, state.limit, state.advice.confidence):
            lines.insert(1, f"{said}.")
        if said := reconciled(end, state.limit, state.advice.confidence):
            lines.append(said)
        if end.in_by_limit is None:
            lines.append(f"Chance in time: {state.not_known.get('end.in_by_limit', NOT_KNOWN)}.")
        paced = f"At plan pace inside by {pet_named(end.plan_pace_pet_min, 'up')}"
        spread = "" if end.p10_pet_min is None else f"; {between(end.p10_pet_min, end.p90_pet_min)}"
        lines.append(f"{paced}{spread}.")
        lines.append(f"Pace: {'; '.join(_pace(name, lane) for name, lane in state.lanes.items())}.")
    return [*(Text(line) for line in lines), Text("")]


def _pace(name: str, lane: LaneState) -> str:
    return f"{name} {pace(lane)}, from {how_many(lane.pace_tasks, 'finished task')}"


def _lanes(state: SortieState) -> Table:
    titles = {name: task.title or name for name, task in state.tasks.items()}
    towards: Towards = "nearest" if state.ended else "up"
    table = Table(box=None, pad_edge=False, header_style="")
    for column in ("Lane", "Ahead or behind", "Now", "Next", "", "Ends, PET"):
        table.add_column(column, overflow="fold")
    for name, lane in state.lanes.items():
        at_work = f"{lane.state}: {lane.task} {titles.get(lane.task, '')}" if lane.task else lane.state
        coming = f"{lane.next} {titles.get(lane.next, '')}" if lane.next else "nothing"
        waits = waits_for(lane.next_waits, titles, state.tasks) if lane.next_waits is not None else ""
        table.add_row(name, str(ahead(lane.ahead_min)), at_work, coming, waits, pet(lane.end_pet_min, towards))
    return table


def _way_back(state: SortieState) -> list[str]:
    """For each crew lane where it is, how far back that is, and by when it must turn back and leave."""
    lines = []
    for name, lane in state.lanes.items():
        if lane.turn_back_pet_min is None:
            continue
        place = f"at {lane.worksite}" if lane.worksite else "place not known"
        place = f"on the way to {lane.going_to}" if lane.going_to else place
        back = f", {duration(lane.back_min, 'up')} back" if lane.back_min else ""
        leave = f", leave by {pet_named(lane.leave_by_pet_min)}" if lane.leave_by_pet_min is not None else ""
        lines.append(f"{name}: {place}{back}, turn back by {pet_named(lane.turn_back_pet_min)} ({lane.turn_back_set_by}){leave}")
    return lines


def _suits(state: SortieState) -> list[str]:
    return [
        f"{name}: {NAMES[suit.limiting]} to {pet_named(suit.limit_pet_min)}, "
        f"{suit_lasts(suit.margin_min, suit.limit_pet_min, expected_pet_min(state.end))} at the "
        f"{which_end(state.end)}{at_plan_pace(state.end, suit.margin_plan_pace_min)}{_findings(suit)}"
        for name, suit in state.suits.items()
        if suit.limiting is not None
    ]


def _findings(suit: SuitState) -> str:
    odd = [f"{NAMES[name]}: {'; '.join(one.flags)}" for name, one in suit.consumables.items() if one.flags]
    return f"; findings: {', '.join(odd)}" if odd else ""
