"""Advice in the words of the state: `Advised` becomes the `Advice` that screens, command line and JSON show."""

from __future__ import annotations

import math

from dashboard.core.deferral.advise import Advised, Proposal
from dashboard.core.sortie_state import Advice, Choice
from dashboard.core.state import CAUTION


def advice_of(advised: Advised) -> Advice:
    """The advice as part of the state."""
    return Advice(
        needed=advised.needed,
        basis=advised.basis,
        confidence=advised.confidence,
        in_by_limit=advised.now.in_by_limit,
        choices=[_choice(proposal) for proposal in advised.proposals],
        get_ahead=list(advised.get_ahead),
        caution=CAUTION,
    )


def _choice(proposal: Proposal) -> Choice:
    figures, change = proposal.figures, proposal.figures.change
    return Choice(
        defer=list(change.defer),
        trim=dict(change.trim),
        break_off=list(change.break_off),
        move=dict(change.move),
        choose=dict(change.choose),
        order=list(change.order),
        end_pet_min=figures.end_pet_min,
        p90_pet_min=figures.p90_pet_min,
        in_by_limit=figures.in_by_limit,
        margin_min={suit: minutes for suit, minutes in figures.margins_min.items() if math.isfinite(minutes)},
        limiting=dict(figures.limiting),
        decide_by_pet_min=figures.decide_by_pet_min,
        value_lost={str(priority): round(lost, 6) for priority, lost in figures.value_lost.items()},
        why=proposal.why,
        differs=proposal.differs,
        proven=proposal.proven,
        reached=proposal.reached,
    )
