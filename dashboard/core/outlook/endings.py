"""Endings that are still open: whether the option that is taken changes the answer."""

from __future__ import annotations

from collections.abc import Iterator

from dashboard.core.base.minutes import length
from dashboard.core.base.wording import chance_text, listed
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.events.change import Change
from dashboard.core.outlook.briefed import Briefed, found
from dashboard.core.plan.fields import Finding

WORTH_CHANCE = 0.10
WORTH_MIN = 10.0


def check_endings(briefed: Briefed) -> Iterator[Finding]:
    """Each option that is not the default against the brief.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A caution when an option takes the chance below the wanted one that the default reaches; a note when an option moves the
        chance or the end by much.
    """
    if briefed.chance is None:
        return
    wanted = briefed.plan.sortie.confidence
    for at, alternative in enumerate(briefed.plan.alternatives):
        options = [option for option in alternative.options if option != alternative.default]
        others = {option: with_option(briefed, alternative.id, option) for option in options}
        changed = {option: one for option, one in others.items() if _differs(briefed, one)}
        if not changed:
            continue
        loses = briefed.chance >= wanted and any((one.in_by_limit or 0.0) < wanted for one in changed.values())
        said = [f"'{option}' {_said(briefed, one)}" for option, one in changed.items()]
        yield found(
            "ending-changes", "caution" if loses else "note", ("alternative", at), f"alternative {alternative.id}",
            f"endings that give the same answer as the default, '{alternative.default}', "
            f"{chance_text(briefed.chance)} likely in time",
            listed(said), "Brief by when the ending is decided, and what it rests on.",
        )


def with_option(briefed: Briefed, alternative: str, option: str) -> Figures:
    """Figures of the brief with one option taken.

    Parameters
    ----------
    briefed
        The plan with its forecast.
    alternative
        Of the plan.
    option
        Of the alternative.

    Returns
    -------
    Figures
    """
    change = Change(choose={alternative: option})
    return figures_of(briefed.record, briefed.projection, change, confidence=briefed.plan.sortie.confidence, draws=briefed.draws)


def _differs(briefed: Briefed, one: Figures) -> bool:
    wanted, before, after = briefed.plan.sortie.confidence, briefed.chance or 0.0, one.in_by_limit or 0.0
    later = (one.end_pet_min or 0.0) - (briefed.projection.end_pet_min or 0.0)
    return (before >= wanted) != (after >= wanted) or abs(after - before) >= WORTH_CHANCE or abs(later) >= WORTH_MIN


def _said(briefed: Briefed, one: Figures) -> str:
    later = (one.end_pet_min or 0.0) - (briefed.projection.end_pet_min or 0.0)
    moved = "at the same time" if abs(later) < 0.5 else f"{length(abs(later))} {'later' if later > 0 else 'earlier'}"
    return f"{chance_text(one.in_by_limit or 0.0)}, ends {moved} at plan pace"
