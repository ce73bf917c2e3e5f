"""Deferral advice as the state shows it: plain frozen models. Times are PET minutes, lengths minutes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from dashboard.core.base.findings import StateModel
from dashboard.core.deferral.call import CallWord
from dashboard.core.deferral.when_to_decide import part_of
from dashboard.core.events.change import Change, Part, PartKind

CALL_IN_HAND = "The call is being worked out."


class IfNotDecided(StateModel):
    """What comes when nobody decides by the decide-by time: the plan of record runs on as it is."""

    end_pet_min: float | None = Field(description="plan-pace end with nothing given up")
    p50_pet_min: float | None = Field(default=None, description="None when the basis is plan pace")
    p90_pet_min: float | None = Field(default=None, description="None when the basis is plan pace")
    in_by_limit: float | None = Field(default=None, description="None when the basis is plan pace")
    margin_min: dict[str, float] = Field(default={}, description="suit -> least margin at that end; infinite ones are absent")
    short_by_min: float = Field(description="minutes missing for what is wanted; 0 when nothing is")
    short_of: str | None = Field(
        default=None,
        description="what most simulated runs that are not in time are past: `the limit`, or what a suit lasts, such as "
        "`suit A water`; None: every one is in time, or the basis is plan pace",
    )


class Item(StateModel):
    """One thing that a choice changes, and by when it must be decided."""

    task: str = Field(description="the task; of an option that is taken, the alternative")
    how: PartKind
    to: float | str | None = Field(default=None, description="new length in minutes, lane, or option; None: none of these")
    decide_by_pet_min: float | None = Field(description="None: nothing is projected that would close it")
    decide_by: str = Field(default="", description="why then, in words")
    wins_min: float | None = Field(
        default=None, description="minutes by which the end is later with all of the choice but this; None: not worked out"
    )
    along_with: str | None = Field(default=None, description="the part that takes it along; None: it goes by itself")
    now: bool = Field(
        description="must be decided within the plan's lead time, or goes along with what must; False: may prove needless"
    )


class Choice(Change):
    """One way out: what is given up, and what it brings."""

    end_pet_min: float | None = Field(description="plan-pace end with it")
    p50_pet_min: float | None = None
    p90_pet_min: float | None = None
    in_by_limit: float | None = Field(description="None when the basis is plan pace")
    margin_min: dict[str, float] = Field(
        default={}, description="suit: minutes from the expected end (else the plan-pace end) to its first reserve"
    )
    limiting: dict[str, str] = Field(default={}, description="suit: limiting consumable")
    decide_by_pet_min: float | None = Field(description="PET after which it is no longer open; None: gives nothing up")
    decide_by: str = Field(default="", description="why then, in words; or why there is no such time")
    items: list[Item] = Field(default=[], description="each thing that it changes, with a decide-by time of its own")
    if_not_decided: IfNotDecided | None = Field(default=None, description="None: not worked out")
    value_lost: dict[str, float] = Field(description="priority class: value lost")
    leaves_open: dict[str, str] = Field(
        default={}, description="alternative of which no option is done whole: that in words"
    )
    why: str
    differs: str = Field(default="", description="what sets it apart from the choices before it")
    proven: bool = Field(default=False, description="least cost is proven, and not only the best that was found")
    proof: str = Field(default="", description="what is proven, in words: at plan pace, or with the confidence as drawn")
    reached: bool = Field(
        default=True, description="False: it misses the wanted confidence, and is the earliest way in or near the best chance"
    )

    def change(self) -> Change:
        """The change alone, without its figures."""
        return Change(**{name: getattr(self, name) for name in Change.model_fields})

    def for_now(self) -> Change:
        """The part that must be decided now; empty when all of it can wait. Recorded alone, it is one decision."""
        return part_of(self.change(), [Part(item.how, item.task, item.to) for item in self.items if item.now])


class Rung(Change):
    """One step of the ladder of certainty: what would have to go for so much of it, and what that costs."""

    wanted: float | None = Field(description="probability of being in by the limit; None: in by it at plan pace")
    reached: bool = Field(description="False: nothing that may be given up reaches it")
    in_by_limit: float | None = Field(default=None, description="probability with it; None: nothing reaches the step")
    end_pet_min: float | None = Field(default=None, description="plan-pace end with it")
    p50_pet_min: float | None = None
    value_lost: dict[str, float] = Field(default={}, description="priority class: value lost")
    proven: bool = Field(default=False, description="least cost is proven")


class Advice(StateModel):
    """Deferral advice; `needed` None: not known."""

    needed: bool | None
    basis: Literal["expected", "plan-pace"] = "expected"
    confidence: float | None = Field(default=None, description="wanted probability of being in by the limit")
    in_by_limit: float | None = Field(default=None, description="probability as things stand")
    choices: list[Choice] = []
    made_pet_min: float | None = Field(default=None, description="PET of the state that the choices were made from")
    outdated: bool = Field(
        default=False, description="an event came in since the choices were made: they are being worked out again, and "
        "these are those of before that still hold, with the figures of now"
    )
    in_progress: bool = Field(
        default=False, description="better choices, further ones or the ladder are still being worked out"
    )
    get_ahead: list[str] = Field(default=[], description="get-aheads that fit, by the same rules")
    get_ahead_after: dict[str, str | None] = Field(
        default={}, description="get-ahead: the task before it in its lanes where it fits first; None: none is"
    )
    get_ahead_from: dict[str, float] = Field(default={}, description="get-ahead: PET at which it can begin there")
    get_ahead_until: dict[str, float] = Field(
        default={}, description="get-ahead: latest PET to start it, those before it in the list done too"
    )
    obstacle: str = Field(default="", description="why nothing reaches what is wanted, in words; empty: something does")
    call: CallWord | None = Field(
        default=None, description="whether the room is called to decide; None: still being worked out, never to be taken for none"
    )
    call_why: str = Field(default="", description="why, in words; or why there is no call yet")
    call_by_pet_min: float | None = Field(default=None, description="PET by which the first part must be decided")
    call_changed_by: str = Field(
        default="", description="what changed the call last, in words; empty: no call before it is known"
    )
    call_for_now: Change = Field(default=Change(), description="what must be decided now; empty unless the call is to decide")
    call_since_pet_min: float | None = Field(default=None, description="PET since which the call stands")
    finding: str = Field(default="", description="what the brief itself promised, while no more than the brief is known; no call")
    ladder: list[Rung] = Field(default=[], description="what certainty costs, least first; empty: not worked out")
    caution: str
