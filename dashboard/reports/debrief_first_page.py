"""The first page of a debrief: what a flight director reads before anything else.

It stays one page: long lists and long words are cut short here, and stand in full further on.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence

from dashboard import words
from dashboard.core.debrief.facts import ContingencyFact, Debrief, DecisionFact, LostTo
from dashboard.reports.document import Heading, Paragraph, Part, clean
from dashboard.reports.ledger_words import about

TYPED = (
    "The log was typed after the sortie. What the room knew at each moment is not recorded; the figures of earlier moments are "
    "computed from what had happened by then."
)

_CHANGES = re.compile(r" \((?:defer|trim) .*\)", re.DOTALL)
MOST_LINES = 7  # of one list
LONGEST, SHORTEST = 160, 80  # characters of one decision, and of its words where it changes much


def first_page(facts: Debrief) -> Iterator[Part]:
    """The parts of the first page.

    Parameters
    ----------
    facts : Debrief

    Yields
    ------
    Part
    """
    titles = {row.task: row.title for lane in facts.lanes.values() for row in lane.tasks}
    if facts.setting:
        yield Paragraph(clean(f"Setting of the run: {facts.setting}."))
    if facts.typed_afterwards:
        yield Paragraph(TYPED)
    yield Paragraph(clean(against_limit(facts)))
    for heading, lines in (
        ("Decisions, and what came of them",
         _some([came_of(one) for one in facts.decisions], "Decisions") or ["None was logged."]),
        ("Contingencies", _some([_contingency(one) for one in facts.contingencies], "Decisions") or ["None was inserted."]),
        ("Suits at the end" if not facts.so_far else "Suits now", _suits(facts)),
        ("Carried over", [carried(facts)]),
        ("Largest causes of lost minutes", [_cause(one, titles) for one in facts.causes] or ["No minutes were lost."]),
    ):
        yield Heading(heading, 3)
        for line in lines:
            yield Paragraph(clean(line))


def against_limit(facts: Debrief) -> str:
    """The end against the limit, a sentence.

    Parameters
    ----------
    facts : Debrief

    Returns
    -------
    str
    """
    limit = f"the limit {words.pet_named(facts.limit.pet_min)} ({facts.limit.set_by})"
    end = facts.end.pet_min
    if end is None:
        return f"The end is not known; {limit}."
    at = words.pet_named(end, "up" if facts.so_far else "nearest")
    how = "Projected inside at plan pace by" if facts.so_far else "Inside at"
    over = end - facts.limit.pet_min
    return f"{how} {at}: {words.compared(over, 'after', 'before') if round(over) else 'at'} {limit}."


def came_of(decision: DecisionFact) -> str:
    """A decision, and what it was expected to change.

    Parameters
    ----------
    decision : DecisionFact

    Returns
    -------
    str
    """
    said = f"{words.pet_named(decision.pet_min)}: {_short(decision.text.rstrip('.'))}"
    before, after = decision.end_pet_min, decision.end_after_pet_min
    if before is not None and after is not None:
        said += f" Projected end at plan pace {words.pet_named(after, 'up')}: {_moved(after - before)}."
    return said


def _short(text: str) -> str:
    """A decision whose words are cut short; what it changes stands in brackets behind them, and stays whole."""
    found = _CHANGES.search(text)
    changes = found[0] if found else ""
    said = textwrap.shorten(text.replace(changes, "", 1), max(LONGEST - len(changes), SHORTEST), placeholder=" ...")
    said = f"{said.rstrip(' .')} ..." if said.endswith("...") else f"{said}{'' if changes else '.'}"
    return f"{said}{changes}." if changes else said


def _some(lines: Sequence[str], section: str) -> list[str]:
    more = len(lines) - MOST_LINES
    return [*lines[:MOST_LINES], f"And {more} more, under '{section}'."] if more > 0 else [*lines]


def _moved(minutes: float) -> str:
    return f"{words.compared(minutes, 'later', 'earlier')} than without it" if round(minutes) else "as without it"


def carried(facts: Debrief) -> str:
    """What is carried over, a sentence.

    Parameters
    ----------
    facts : Debrief

    Returns
    -------
    str
    """
    left = [f"{one.task} {one.title} ({one.because}, {words.duration(one.remaining_min, 'up')})" for one in facts.carry_over]
    more = len(left) - MOST_LINES
    left = [*left[:MOST_LINES], f"and {more} more, under 'Carry-over'"] if more > 0 else left
    return f"{'; '.join(left)}." if left else "Nothing."


def _contingency(one: ContingencyFact) -> str:
    at = f"inserted at {words.pet_named(one.inserted_pet_min)}" if one.inserted_pet_min is not None else "inserted"
    worked = ", ".join(f"{lane} {words.duration(minutes)}" for lane, minutes in one.worked_min.items())
    return f"{one.contingency} ({one.trigger}): {at}; worked on it: {worked or 'nobody'}."


def _suits(facts: Debrief) -> list[str]:
    by_suit: dict[str, list[str]] = {}
    for one in facts.suits:
        left = f"{words.NAMES.get(one.consumable, one.consumable)} {words.amount(one.left, one.consumable)}"
        by_suit.setdefault(one.suit, []).append(f"{left} (reserve {words.amount(one.reserve, one.consumable, 'up')})")
    return [f"Suit {suit}: {', '.join(found)}." for suit, found in by_suit.items()] or ["The plan names no suit."]


def _cause(one: LostTo, titles: dict[str, str]) -> str:
    return f"{words.duration(one.line.minutes)} ({', '.join(one.lanes)}): {about(one.line, titles)}."
