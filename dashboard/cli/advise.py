"""The command `tetherline advise`: what to give up at one instant, in words or as JSON."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any

import typer
from rich.table import Table

from dashboard import words
from dashboard.cli.asked import ask_log
from dashboard.cli.options import At, LogFile, PlanFile, single_command
from dashboard.cli.printing import show, unread_parts
from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.deferral.advice_model import Advice, Choice, Rung
from dashboard.core.deferral.advise import Basis, Wish, advise
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.record.fold import reconcile
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
    titles = {task_id: run.task.title for task_id, run in record.runs.items()}
    doubt = record.pet_zero_doubt
    warned = [f"PET zero is not known: {doubt}. The planned start is used as PET zero.", ""] if doubt else []
    show(*warned, *_advice_parts(advice, record.pet_min, titles, unread))


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
    advice: Advice, pet_min: float, titles: dict[str, str], unread: Sequence[Unread] = ()
) -> list[Any]:
    """Make the printable parts of the advice.

    Parameters
    ----------
    advice
        Its choices, and the get-aheads that fit.
    pet_min
        PET of the advice, minutes.
    titles
        Title by task.
    unread
        Lines of the log that could not be understood.

    Returns
    -------
    list
        Texts and tables, in reading order.
    """
    parts: list[Any] = [_head(advice, pet_min), *words.call(advice)]
    for number, choice in enumerate(advice.choices, start=1):
        parts.append(_choice(number, choice, titles))
    if advice.choices and advice.ladder:
        parts.append(_ladder(advice.ladder))
    if advice.get_ahead:
        def named(task_id: str | None) -> str:
            return "" if task_id is None else f"{task_id} {titles.get(task_id, '')}".rstrip()

        fitting = "; ".join(
            f"{named(t)}, {words.fits(named(advice.get_ahead_after[t]), advice.get_ahead_from[t], advice.get_ahead_until[t])}"
            for t in advice.get_ahead
        )
        parts.append(f"Time in hand. Get-aheads that fit: {fitting}")
    return [*parts, *unread_parts(unread), "", advice.caution]


def _head(advice: Advice, pet_min: float) -> str:
    if advice.basis == "plan-pace":
        basis = "likely durations only"
        sure = ""
    else:
        basis = f"wanted {words.chance(advice.confidence)}"
        sure = f" {words.chance(advice.in_by_limit)} sure of being in by the limit,"
    if advice.needed is None:
        return f"As of {words.pet_named(pet_min)}: {advice.obstacle}"
    needed = "Advice is needed" if advice.needed else "Nothing needs to be given up"
    said = f"As of {words.pet_named(pet_min)}:{sure} {basis}. {needed}."
    return f"{said} {advice.obstacle}" if advice.obstacle else said


def _choice(number: int, choice: Choice, titles: dict[str, str]) -> Table:
    """A table with one choice, a row for each thing that it says."""
    def named(task_id: str) -> str:
        return f"{task_id} {titles.get(task_id, '')}".rstrip()

    table = Table(title=f"Choice {number}: {choice.differs}", title_justify="left", show_header=False, box=None)
    rows = [
        ("why", choice.why),
        ("defer", ", ".join(named(t) for t in choice.defer)),
        ("trim", ", ".join(f"{named(t)} to {words.duration(m)}" for t, m in choice.trim.items())),
        ("extend", ", ".join(f"{named(t)} to {words.duration(m)}" for t, m in choice.extend.items())),
        ("break off", ", ".join(named(t) for t in choice.break_off)),
        ("hand over", ", ".join(f"{named(t)} to {lane}" for t, lane in choice.move.items())),
        ("take", ", ".join(f"'{option}' for {a}" for a, option in choice.choose.items())),
        ("new order", " ".join(choice.order)),
        ("back in", words.pet_named(choice.end_pet_min, "up")),
        ("sure", words.chance(choice.in_by_limit) if choice.in_by_limit is not None else "not drawn"),
        ("suits", ", ".join(f"suit {s} {choice.limiting.get(s, '')} {words.suit_margin(m)}"
                            for s, m in choice.margin_min.items())),
        ("costs", _costs(choice.value_lost)),
        ("decide by", _decide_by(choice)),
        ("decide now", ", ".join(named(item.task) for item in choice.items if item.now)),
        ("can wait", _can_wait(choice, named)),
        ("if not decided", _if_not_decided(choice)),
        ("proven", choice.proof),
    ]
    for name, said in rows:
        if said:
            table.add_row(name, said)
    return table


def _ladder(ladder: Sequence[Rung]) -> Table:
    """A table of what would have to go for more and more certainty, and what that costs."""
    table = Table("for", "goes", "costs", "back in", title="What certainty costs", title_justify="left", box=None)
    for rung in ladder:
        wanted = "plan pace" if rung.wanted is None else f"{words.chance(rung.wanted)} sure"
        if not rung.reached:
            table.add_row(wanted, "nothing that may go is enough", "", "")
            continue
        goes = ", ".join(f"{part.name} to {part.to:g} min" if part.kind == "trim" else part.name for part in rung.parts())
        table.add_row(wanted, goes or "nothing", _costs(rung.value_lost), words.pet_named(rung.end_pet_min, "up"))
    return table


def _costs(value_lost: Mapping[str, float]) -> str:
    return ", ".join(f"{lost:.3g} of priority {c}" for c, lost in value_lost.items() if lost) or "nothing"


def _can_wait(choice: Choice, named: Callable[[str], str]) -> str:
    """What of a choice can wait, and until when, in words."""
    waiting = [
        f"{named(item.task)} until {words.pet_named(item.decide_by_pet_min)}" for item in choice.items
        if not item.now and item.decide_by_pet_min is not None
    ]
    return f"{', '.join(waiting)}; it may prove needless" if waiting else ""


def _decide_by(choice: Choice) -> str:
    if choice.decide_by_pet_min is None:
        return choice.decide_by
    return f"{words.pet_named(choice.decide_by_pet_min)}, {choice.decide_by}"


def _if_not_decided(choice: Choice) -> str:
    """What happens if nobody decides and nothing is given up, in words."""
    then = choice.if_not_decided
    if then is None or then.end_pet_min is None:
        return ""
    sure = "" if then.in_by_limit is None else f", {words.chance(then.in_by_limit)} sure"
    short = f", {words.duration(then.short_by_min, 'up')} short of what is wanted" if then.short_by_min > 0 else ""
    return f"back in {words.pet_named(then.end_pet_min, 'up')}{sure}{short}"
