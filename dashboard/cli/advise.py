"""The command `tetherline advise`: what to give up at one instant, in words or as JSON."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer
from rich.table import Table

from dashboard import story, words
from dashboard.cli.asked import ask_log
from dashboard.cli.options import At, LogFile, PlanFile, single_command
from dashboard.cli.printing import show, unread_parts
from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.deferral.advice_model import Advice, Choice, Item
from dashboard.core.deferral.advise import Basis, Wish, advise
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.record.fold import reconcile
from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.words import how_many

BASES: tuple[Basis, ...] = ("expected", "plan-pace")


app = single_command()


@app.command("advise")
def print_advice(
    plan: PlanFile,
    log: LogFile,
    at: At = None,
    confidence: Annotated[
        float | None, typer.Option(help="Wanted probability of being in by the limit; by default that of the plan.")
    ] = None,
    basis: Annotated[str, typer.Option(help="Basis of figures: expected, or plan-pace (likely durations only).")] = "expected",
    resequence: Annotated[bool, typer.Option("--resequence", help="Allow a new order within the lanes.")] = False,
    keep: Annotated[list[str] | None, typer.Option(help="Ids of tasks that must be done in full.")] = None,
    give_up: Annotated[list[str] | None, typer.Option(help="Ids of tasks to give up in any case.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the advice as JSON.")] = False,
) -> None:
    """Print what to give up so that the crew is in by the limit; at the last event when no time is given. Advisory."""
    if confidence is not None and not 0 < confidence < 1:
        raise _refused("option --confidence", "a probability between 0 and 1, such as 0.9", f"{confidence:g}")
    chosen = next((one for one in BASES if one == basis), None)
    if chosen is None:
        raise _refused("option --basis", f"one of {', '.join(BASES)}", f"'{basis}'")
    asked = ask_log(plan, log, at)
    record = reconcile(asked.plan, asked.events, asked.now)
    kept, given_up = _tasks(record, "--keep", keep or []), _tasks(record, "--give-up", give_up or [])
    wish = Wish(kept, given_up, resequence)
    advice = advice_of(advise(record, confidence=confidence, basis=chosen, wish=wish, ladder=True))
    unread = [*asked.unread, *record.counted.unread]
    if as_json:
        print(advice.model_dump_json(indent=2))
        if unread:
            print(f"{how_many(len(unread), 'line')} of the log could not be understood; see tetherline state.",
                  file=sys.stderr)
        return
    doubt = record.pet_zero_doubt
    warned = [f"PET zero is not known: {doubt}. The planned start is used as PET zero.", ""] if doubt else []
    show(*warned, *_advice_parts(advice, record, unread))


def _refused(subject: str, expected: str, found: str) -> InputError:
    return InputError([Problem(subject, expected, found, "See tetherline advise --help.")])


def _tasks(record: Record, option: str, given: list[str]) -> frozenset[str]:
    """The tasks of an option, which may be given several times, with commas or spaces between their ids."""
    names = [name for part in given for name in part.replace(",", " ").split()]
    unknown = [
        Problem(f"option {option}", "the id of a task of the plan of record", f"'{name}'", did_you_mean(name, record.runs))
        for name in names if name not in record.runs
    ]
    if unknown:
        raise InputError(unknown)
    return frozenset(names)


def _advice_parts(
    advice: Advice, record: Record, unread: Sequence[Unread] = ()
) -> list[Any]:
    """Make the printable parts of the advice.

    Parameters
    ----------
    advice
        Its choices, and the get-aheads that fit.
    record
        That it was made from.
    unread
        Lines of the log that could not be understood.

    Returns
    -------
    list
        Texts and tables, in reading order.
    """
    parts: list[Any] = [_head(advice, record.pet_min), *story.call_lines(advice)]
    for number, choice in enumerate(advice.choices, start=1):
        parts += _choice(number, choice, record, advice)
    if advice.choices and advice.ladder:
        parts.append(_ladder(advice, record))
    if advice.get_ahead:
        fitting = "; ".join(
            f"{_named(record, t)}, "
            + words.fits(
                "" if (before := advice.get_ahead_after[t]) is None else _named(record, before),
                advice.get_ahead_from[t], advice.get_ahead_until[t],
            )
            for t in advice.get_ahead
        )
        parts.append(f"Time in hand. Get-aheads that fit: {fitting}")
    return [*parts, *unread_parts(unread), "", advice.caution]


def _named(record: Record, name: str) -> str:
    """A task with its id and title; an alternative by its title."""
    if name in record.runs:
        return f"{name} {record.runs[name].task.title}".rstrip()
    return next((one.title or one.id for one in record.plan.alternatives if one.id == name), name)


def _priorities(record: Record) -> dict[str, int]:
    return {
        t: run.task.priority for t, run in record.runs.items()
        if record.in_plan(t) and run.task.leg is None and not (run.task.get_ahead and run.state == NOT_STARTED)
    }


def _head(advice: Advice, pet_min: float) -> str:
    if advice.needed is None:
        return f"As of {words.pet_named(pet_min)}: {advice.obstacle}"
    drawn = advice.basis == "expected"
    wanted = f"{story.chance_in_time(advice.in_by_limit)}, wanted {words.chance(advice.confidence)}"
    basis = wanted if drawn else "at plan pace (likely durations only)"
    goal = "the wanted chance" if drawn else "limit and reserves"
    needed = f"Nothing less than a cut reaches {goal}" if advice.needed else "Nothing needs to be given up"
    said = f"As of {words.pet_named(pet_min)}: {basis}. {needed}."
    return f"{said} {advice.obstacle}" if advice.obstacle else said


def _choice(number: int, choice: Choice, record: Record, advice: Advice) -> list[Table]:
    """Two tables for one choice: what goes, one thing per line; then what it brings."""
    limit = record.plan.sortie.limit_less_reserve_pet_min
    goes = Table("", "what goes", "wins", "decide by", title=f"Choice {number}: {choice.differs}", title_justify="left", box=None)
    for item in sorted(choice.items, key=lambda item: (not item.now, item.decide_by_pet_min or float("inf"))):
        what = story.item_in_words(item, lambda name: _named(record, name))
        goes.add_row(_when(item, advice), what, story.item_wins(item), story.item_by(item))
    brings = Table(show_header=False, box=None)
    suits = (f"suit {s} {choice.limiting.get(s, '')} {words.suit_margin(m)}" for s, m in choice.margin_min.items())
    rows = [
        ("end", story.choice_inside(choice, limit)),
        ("suits", ", ".join(suits)),
        ("loses", story.cost(choice, choice.value_lost, _priorities(record))),
        ("new order", " ".join(choice.order)),
        ("why", choice.why),
        ("if not decided", _if_not_decided(choice, limit, advice)),
        ("proven", choice.proof),
    ]
    for name, said in rows:
        if said:
            brings.add_row(name, said)
    return [goes, brings] if choice.items else [Table(title=goes.title, title_justify="left", box=None), brings]


def _when(item: Item, advice: Advice) -> str:
    """Whether a part goes now or can wait; what is due soon goes now only where the room is called to decide."""
    if not item.now:
        return "can wait"
    return "now" if advice.call in (None, "decide") else "not asked"


def _ladder(advice: Advice, record: Record) -> Table:
    """A table of what would have to go for more and more certainty, and what that costs."""
    table = Table("chance in time", "goes", "loses", "inside by", title="What certainty costs", title_justify="left", box=None)
    for rung in advice.ladder:
        goes = "; ".join(story.rung_goes(rung))
        loses = story.cost(rung, rung.value_lost, _priorities(record)) if rung.reached else ""
        table.add_row(story.rung_wanted(rung), goes, loses, story.rung_inside(rung))
    return table


def _if_not_decided(choice: Choice, limit_pet_min: float, advice: Advice) -> str:
    """What happens if nobody decides and nothing is given up, in words."""
    then = choice.if_not_decided
    if then is None or then.end_pet_min is None:
        return ""
    said = story.choice_inside(then, limit_pet_min)
    wanted = advice.confidence if advice.basis == "expected" else None
    return "; ".join(one for one in (said, story.certain_enough(then.short_by_min, wanted, then.short_of)) if one)
