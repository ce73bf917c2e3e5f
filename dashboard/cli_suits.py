"""The command `tetherline suits`: the suit budget at one instant, in words."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from dashboard import words
from dashboard.cli_state import PIPED_WIDTH, instant_of_log
from dashboard.core.plan import Plan
from dashboard.core.sortie_state import ConsumableState, SortieState, SuitState
from dashboard.core.state import follow
from dashboard.core.suits import rate_origin
from dashboard.log.logfile import read_log
from dashboard.log.planfile import load_plan

COLUMNS = ("Consumable", "Left", "Last read", "Reserve", "Needs", "An hour", "Model", "Reserve at", "Margin", "Look at")


def print_suits(plan_path: Path, log_path: Path, at: str | None) -> None:
    """Read plan and log and print the suit budget; at the last event when `at` is None."""
    plan = load_plan(plan_path)
    log = read_log(log_path, plan)
    state = follow(plan, log.events, instant_of_log(plan, log.events, at), unread=log.unread, mode="replay")
    width = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPED_WIDTH
    console = Console(width=width, markup=False, highlight=False, emoji=False)
    for part in suit_parts(plan, state):
        console.print(part, overflow="fold")


def suit_parts(plan: Plan, state: SortieState) -> list[Any]:
    """The suit budget as printable parts."""
    head = f"As of {words.pet_named(state.pet_min)}. Limit of the pair: {words.pet_named(state.limit.pet_min)}, "
    parts: list[Any] = [f"{head}set by {state.limit.set_by}."]
    if not state.suits:
        parts.append("The plan names no suit. Add [[suit]] tables to follow the suit budget.")
    for name, suit in state.suits.items():
        parts += ["", _suit(name, suit)]
    return [*parts, "", *_rates(plan), "", state.advice.caution]


def _suit(name: str, suit: SuitState) -> Table:
    wearer = ", ".join(suit.lanes) or "worn by nobody"
    limiting = f", limiting: {words.NAMES[suit.limiting]}" if suit.limiting else ""
    table = Table(title=f"Suit {name}, {wearer}{limiting}", title_justify="left", box=None, pad_edge=False, header_style="")
    for column in COLUMNS:
        table.add_column(column, overflow="fold")
    for consumable, one in suit.consumables.items():
        table.add_row(*_row(consumable, one))
    return table


def _row(name: str, one: ConsumableState) -> list[str]:
    read = "none yet" if one.reading is None else f"{words.amount(one.reading, name)} at {words.pet_named(one.reading_pet_min)}"
    factor = words.against(one.factor)
    rate = words.amount(one.rate_per_h, name, "up") if one.rate_per_h is not None else words.NOT_KNOWN
    reached = words.pet_named(one.reserve_reached_pet_min)
    return [
        words.NAMES.get(name, name), words.amount(one.left, name), read, words.amount(one.reserve, name, "up"),
        words.amount(one.need, name, "up"), rate, factor, reached, str(words.suit_margin(one.margin_min)), "; ".join(one.flags),
    ]


def _rates(plan: Plan) -> list[str]:
    """Where the rates come from: the plan, or a default with its source."""
    return sorted(
        {
            f"{words.NAMES[name]}: {rate_origin(name, given)}"
            for suit in plan.suits
            for name, given in suit.consumables().items()
        }
    )
