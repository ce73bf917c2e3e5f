"""The command `tetherline suits`: the suit budget at one instant, in words or as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any

import typer
from rich.table import Table

from dashboard import words
from dashboard.cli.asked import ask_log
from dashboard.cli.options import At, LogFile, PlanFile, single_command
from dashboard.cli.printing import show, unread_parts
from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.core.state.model import ConsumableState, SortieState, SuitState
from dashboard.core.suits.budget import rate_origin

COLUMNS = (
    "Consumable", "Left", "Last read", "Reserve", "Needs", "Per hour", "Model", "Reserve at", "Margin", "At plan pace",
    "Findings",
)
STATE_PARTS = {"sortie", "now", "pet_min", "limit", "suits", "unread"}


app = single_command()


@app.command()
def suits(
    plan: PlanFile,
    log: LogFile,
    at: At = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the suits of the state as JSON.")] = False,
) -> None:
    """Print what each suit has left, what it needs and how long it lasts; at the last event when no time is given."""
    asked = ask_log(plan, log, at)
    state = follow(asked.plan, asked.events, asked.now, unread=asked.unread, mode="replay")
    if as_json:
        print(json.dumps(_suit_json(state), indent=2))
        return
    show(*_suit_parts(asked.plan, state))


def _suit_json(state: SortieState) -> dict[str, Any]:
    """The fields of the state about the suits, with its instant and the caution."""
    not_known = {field: why for field, why in state.not_known.items() if field.partition(".")[0] == "suits"}
    parts = state.model_dump(mode="json", include=STATE_PARTS)
    return {**parts, "not_known": not_known, "caution": state.advice.caution}


def _suit_parts(plan: Plan, state: SortieState) -> list[Any]:
    """The suit budget as printable parts."""
    against = f"Needs and margins are against the {words.which_end(state.end)}."
    head = f"As of {words.pet_named(state.pet_min)}. Limit of the pair: {words.pet_named(state.limit.pet_min)}, "
    parts: list[Any] = [f"{head}set by {state.limit.set_by}. {against}"]
    if not state.suits:
        parts.append("The plan names no suit. Add [[suit]] tables to follow the suit budget.")
    for name, suit in state.suits.items():
        parts += ["", _suit(name, suit, state.not_known)]
    return [*parts, "", *_rates(plan), *unread_parts(state.unread), "", state.advice.caution]


def _suit(name: str, suit: SuitState, not_known: Mapping[str, str]) -> Table:
    wearer = ", ".join(suit.lanes) or "worn by nobody"
    limiting = f", limiting: {words.NAMES[suit.limiting]}" if suit.limiting else ""
    table = Table(title=f"Suit {name}, {wearer}{limiting}", title_justify="left", box=None, pad_edge=False, header_style="")
    for column in COLUMNS:
        table.add_column(column, overflow="fold")
    for consumable, one in suit.consumables.items():
        why = not_known.get(f"suits.{name}.consumables.{consumable}.reserve_reached_pet_min")
        table.add_row(*_row(consumable, one, why))
    return table


def _row(name: str, one: ConsumableState, why_no_time: str | None) -> list[str]:
    read = "none yet" if one.reading is None else f"{words.amount(one.reading, name)} at {words.pet_named(one.reading_pet_min)}"
    if one.doubted is not None:
        expected = words.amount(one.doubted.expected, name)
        read = f"{words.amount(one.doubted.value, name)} at {words.pet_named(one.doubted.pet_min)}, {expected} expected"
    factor = words.against(one.factor)
    rate = words.amount(one.rate_per_h, name, "up") if one.rate_per_h is not None else words.NOT_KNOWN
    reached = why_no_time or words.pet_named(one.reserve_reached_pet_min)
    margin = "sets no limit" if one.assumed else str(words.suit_margin(one.margin_min))
    plan_pace = "" if one.assumed else str(words.suit_margin(one.margin_plan_pace_min))
    return [
        words.NAMES.get(name, name), words.amount(one.left, name), read, words.amount(one.reserve, name, "up"),
        words.amount(one.need, name, "up"), rate, factor, reached, margin, plan_pace, "; ".join(one.flags),
    ]


def _rates(plan: Plan) -> list[str]:
    """Where each rate comes from: the plan, or a default with its source."""
    return sorted(
        {
            f"{words.NAMES[name]}: {rate_origin(name, given)}"
            for suit in plan.suits
            for name, given in suit.consumables().items()
        }
    )
