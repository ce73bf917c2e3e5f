"""Turns the result of `advise` into the frozen models of `advice_model`, which screens, command line and JSON show."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from dashboard.core.base.caution import CAUTION
from dashboard.core.deferral.advice_model import CALL_IN_HAND, Advice, Choice, IfNotDecided, Item, Rung
from dashboard.core.deferral.advise import Advised, Proposal, Step
from dashboard.core.deferral.call import Call
from dashboard.core.deferral.figures import Figures
from dashboard.core.deferral.when_to_decide import PartInTime
from dashboard.core.deferral.wins import NO_WIN, PartName, Win


def advice_of(advised: Advised) -> Advice:
    """The result of `advise` as the model that the state carries.

    Parameters
    ----------
    advised
        The result of `advise`.

    Returns
    -------
    Advice
        Without the infinite margins of its choices.
    """
    return Advice(
        needed=advised.needed,
        basis=advised.basis,
        confidence=advised.confidence,
        in_by_limit=advised.now.in_by_limit,
        choices=[_choice(proposal, advised.now) for proposal in advised.proposals],
        get_ahead=list(advised.get_ahead),
        get_ahead_after={task_id: place.after for task_id, place in advised.get_ahead.items()},
        get_ahead_from={task_id: place.from_pet_min for task_id, place in advised.get_ahead.items()},
        get_ahead_until={task_id: place.until_pet_min for task_id, place in advised.get_ahead.items()},
        obstacle=advised.obstacle,
        **call_fields(advised.call),
        ladder=[_rung(step) for step in advised.ladder],
        caution=CAUTION,
    )


def call_fields(call: Call | None) -> dict[str, Any]:
    """The fields of the advice that tell the call.

    Parameters
    ----------
    call
        None: it is still being worked out.

    Returns
    -------
    dict
        By name of the field.
    """
    if call is None:
        return {"call": None, "call_why": CALL_IN_HAND}
    return {
        "call": call.call, "call_why": call.why, "call_by_pet_min": call.by_pet_min, "call_changed_by": call.changed_by,
        "call_since_pet_min": call.since_pet_min, "call_for_now": call.for_now, "finding": call.finding,
    }


def _rung(step: Step) -> Rung:
    figures = step.figures
    if figures is None:
        return Rung(wanted=step.wanted, reached=False)
    return Rung(
        **figures.change.model_dump(), wanted=step.wanted, reached=True, in_by_limit=figures.in_by_limit,
        end_pet_min=figures.end_pet_min, p50_pet_min=figures.p50_pet_min,
        value_lost={str(priority): round(lost, 6) for priority, lost in figures.value_lost.items()}, proven=step.proven,
    )


def choice_of(
    figures: Figures, now: Figures | None, *, why: str, differs: str = "", proven: bool = False, proof: str = "",
    reached: bool = True, wins: Mapping[PartName, Win] | None = None,
) -> Choice:
    """The figures of a change as a choice.

    Parameters
    ----------
    figures : Figures
        Of the change.
    now : Figures or None
        Of giving up nothing: what comes if nobody decides. None: not worked out.
    why, differs, proof : str
        Sentences about the choice.
    proven : bool
        It is proven that no change costs less.
    reached : bool
        It reaches the wanted confidence.
    wins : mapping, optional
        What each part wins, as `wins_of` gives it; None: not worked out.

    Returns
    -------
    Choice
        Without infinite margins.
    """
    return Choice(
        **figures.change.model_dump(),
        end_pet_min=figures.end_pet_min,
        p50_pet_min=figures.p50_pet_min,
        p90_pet_min=figures.p90_pet_min,
        in_by_limit=figures.in_by_limit,
        margin_min=margins_at_end(figures),
        limiting=dict(figures.limiting),
        decide_by_pet_min=figures.decide_by_pet_min,
        decide_by=figures.decide_by,
        items=_items(figures, wins or {}),
        leaves_open=dict(figures.leaves_open),
        if_not_decided=None if now is None else IfNotDecided(
            end_pet_min=now.end_pet_min, p50_pet_min=now.p50_pet_min, p90_pet_min=now.p90_pet_min,
            in_by_limit=now.in_by_limit, margin_min=margins_at_end(now), short_by_min=now.short_by_min, short_of=now.short_of,
        ),
        value_lost={str(priority): round(lost, 6) for priority, lost in figures.value_lost.items()},
        why=why,
        differs=differs,
        proven=proven,
        proof=proof,
        reached=reached,
    )


def _items(figures: Figures, wins: Mapping[PartName, Win]) -> list[Item]:
    """The parts of a choice with what they win and by when they must be decided: not after the part that they go along with."""
    parts: dict[PartName, PartInTime] = {(one.part.kind, one.part.name): one for one in figures.parts}

    def closes(name: PartName, seen: frozenset[PartName] = frozenset()) -> tuple[float | None, str]:
        win = wins.get(name, NO_WIN)
        by, why = _closes(parts[name], win, figures.decide_by_pet_min or 0.0)
        if by is None or win.along_with is None or win.along_with in seen or win.along_with not in parts:
            return by, why
        first, _ = closes(win.along_with, seen | {name})
        return (by, why) if first is None or first >= by else (first, f"with {win.along_with[1]}, along with which it goes")

    items = []
    for name, one in parts.items():
        win, (by, why) = wins.get(name, NO_WIN), closes(name)
        items.append(Item(
            task=one.part.name, how=one.part.kind, to=one.part.to, decide_by_pet_min=by, decide_by=why, now=one.now,
            wins_min=win.minutes, along_with=None if win.along_with is None else win.along_with[1],
        ))
    return items


def _closes(one: PartInTime, win: Win, first_pet_min: float) -> tuple[float | None, str]:
    """When a part closes, and why then.

    It closes earlier than as things stand where the rest of the choice brings it forward, but not before the choice itself.
    """
    by, closes = one.decide_by_pet_min, win.closes_pet_min
    if by is None or closes is None or max(closes, first_pet_min) >= by:
        return by, one.why
    said = f"when {one.part.name} would begin, or its lane goes on without it, once the rest is given up"
    return max(closes, first_pet_min), said


def margins_at_end(figures: Figures) -> dict[str, float]:
    """Suit -> least margin against the expected end; against the plan-pace end where nothing was drawn.

    Parameters
    ----------
    figures
        Whose margins are against the plan-pace end.

    Returns
    -------
    dict
        Minutes; infinite margins are left out.
    """
    later = 0.0 if figures.p50_pet_min is None else figures.p50_pet_min - (figures.end_pet_min or 0.0)
    return {suit: minutes - later for suit, minutes in figures.margins_min.items() if math.isfinite(minutes)}


def _choice(proposal: Proposal, now: Figures) -> Choice:
    return choice_of(
        proposal.figures, now, why=proposal.why, differs=proposal.differs, proven=proposal.proven, proof=proposal.proof,
        reached=proposal.reached, wins=proposal.wins,
    )
