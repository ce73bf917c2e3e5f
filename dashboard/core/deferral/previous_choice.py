"""The first choice of the last advice stays first as long as the new one is no better.

Small changes of the figures would otherwise let two choices of equal cost swap places again and again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dashboard.core.deferral.advice_model import Advice, Choice, Item
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.deferral.reasons import COSTS_LEAST, LEAST_FOUND, why_of
from dashboard.core.deferral.still_open import is_open_in
from dashboard.core.deferral.to_advice_model import choice_of
from dashboard.core.deferral.validate import faults
from dashboard.core.deferral.when_to_decide import Times
from dashboard.core.deferral.wins import PartName, Win
from dashboard.core.events.change import Change
from dashboard.core.record.lifecycle import NOT_STARTED
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, expect
from dashboard.core.schedule.plan_pace import project


def steadied(previous: Choice | None, new: Advice) -> Advice:
    """The new advice, with the previous first choice put first if it is as good as the new first choice.

    It is as good if it reaches the wanted confidence and loses no more value, compared class by class in strict order. Fewer
    changes or an earlier end are no reason to replace it.

    Parameters
    ----------
    previous : Choice, optional
        The previous first choice with figures of the instant of the new advice (see `refigured`). None: there was none, or
        it is no longer open.
    new : Advice

    Returns
    -------
    Advice
        With no more choices than `new`.
    """
    if previous is None or not previous.reached or not new.needed or not new.choices:
        return new
    first = new.choices[0]
    if first.reached and _lost(previous.value_lost) > _lost(first.value_lost):
        return new
    if previous.change() == first.change():
        return new
    kept = previous.model_copy(update={"differs": "as advised before"})
    others = [choice for choice in new.choices if choice.reached and choice.change() != previous.change()]
    return new.model_copy(update={"choices": [kept, *others][: max(len(new.choices), 1)], "obstacle": ""})


def refigured(
    record: Record, choices: Sequence[Choice], confidence: float, draws: int = DRAWS, *, gives: float = 0.0
) -> list[Choice]:
    """Earlier choices with figures computed again; choices that are no longer open or no longer hold are left out.

    Whether a choice is open is the rule of `still_open.py`. A choice that reached the wanted confidence holds while it
    misses the confidence by no more than `gives`.

    Parameters
    ----------
    record : Record
        As it is now.
    choices : sequence of Choice
    confidence : float
        Wanted probability.
    draws : int
    gives : float
        Probability by which a choice may miss the confidence.

    Returns
    -------
    list of Choice
        In the order given.
    """
    changes = [(choice, change) for choice in choices if is_open_in(record, change := choice.change())]
    if not changes:
        return []
    before = project(record)
    times = Times(before, expect(record, before, draws=draws) if draws else None)
    now = figures_of(record, before, Change(), confidence=confidence, draws=draws, times=times)
    found = [
        (one, figures_of(record, before, change, confidence=confidence, draws=draws, times=times)) for one, change in changes
    ]
    return [
        _retold(record, choice, figures, now) for choice, figures in found
        if not (choice.reached and _misses(figures, confidence - gives)) and not faults(record, figures.change, None)
    ]


def _misses(figures: Figures, least: float) -> bool:
    return figures.in_by_limit is not None and figures.in_by_limit < least


def _retold(record: Record, choice: Choice, figures: Figures, now: Figures) -> Choice:
    """The choice with new figures. The proof applied to the earlier figures, so it is cleared."""
    return choice_of(
        figures, now, why=why_of(record, figures, now) if choice.reached else choice.why,
        differs=LEAST_FOUND if choice.differs == COSTS_LEAST else choice.differs,
        proven=False, proof="as advised before, drawn anew", reached=choice.reached,
        wins={
            (one.how, one.task): Win(one.wins_min, _begins(record, one), _along_with(choice, one)) for one in choice.items
        },
    )


def _begins(record: Record, item: Item) -> float | None:
    """By when the part of an earlier choice had to be decided, while its task has not begun."""
    run = record.runs.get(item.task)
    if run is None or run.state != NOT_STARTED or item.decide_by_pet_min is None:
        return None
    return max(record.pet_min, item.decide_by_pet_min)


def _along_with(choice: Choice, item: Item) -> PartName | None:
    """The part of the choice that takes this one along."""
    return next(((one.how, one.task) for one in choice.items if one.task == item.along_with), None)


def _lost(value_lost: Mapping[str, float]) -> list[tuple[int, float]]:
    """Value lost in each priority class, as a list that compares class by class; classes without loss count as 0."""
    return [(c, round(value_lost.get(str(c), 0.0), 6)) for c in range(1, 10)]
