"""What a debrief holds: plain frozen models. Times are PET minutes, lengths minutes, as everywhere in the core.

A difference is actual less briefed: positive is later or longer than briefed, negative is earlier or shorter.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from dashboard.core.base.findings import Discrepancy, StateInstant, StateModel, Unread
from dashboard.core.plan.model import Task
from dashboard.core.record.lifecycle import TaskWord
from dashboard.core.record.record import Origin
from dashboard.core.state.model import LimitState

SegmentKind = Literal["work", "projected", "close-out", "hold", "start not known", "idle"]
LedgerKind = Literal[
    "overrun", "underrun", "hold", "wait", "gap not used", "close-out", "contingency", "added", "get-ahead",
    "option taken", "taken over", "start not known", "before PET zero", "trimmed", "extended", "broken off", "deferred",
    "not done", "option not taken", "handed over",
]  # fmt: skip
WaitFor = Literal["lane", "arm", "window", "settling", "not before", "no reason"]
LeftBecause = Literal["deferred", "broken off", "on hold", "in work", "not done", "get-ahead"]


class Segment(StateModel):
    """A stretch of a lane in which one thing was going on. The segments of a lane neither overlap nor leave gaps."""

    kind: SegmentKind
    task: str | None = None
    why: str | None = Field(default=None, description="reason of a hold; None: none was given")
    from_pet_min: float
    to_pet_min: float

    @property
    def minutes(self) -> float:
        """Its length."""
        return self.to_pet_min - self.from_pet_min


class LedgerLine(StateModel):
    """Minutes that a lane lost (positive) or won (negative) against the brief, and on what."""

    kind: LedgerKind
    minutes: float
    task: str | None = None
    why: str | None = Field(default=None, description="reason of a hold")
    waited_for: WaitFor | None = Field(default=None, description="of a wait: what it was for, where it can be told")
    name: str | None = Field(default=None, description="of a wait: the lane, kind of window or task waited for")


class TaskRow(StateModel):
    """One task as run against as briefed. None: not briefed, not begun, not over, or not known."""

    task: str
    title: str
    state: TaskWord
    in_plan: bool
    why_out: str | None
    origin: Origin
    get_ahead: bool
    lanes: list[str]
    briefed_start_pet_min: float | None
    briefed_finish_pet_min: float | None
    start_pet_min: float | None
    finish_pet_min: float | None
    start_late_min: float | None
    finish_late_min: float | None
    briefed_min: float
    planned_min: float = Field(description="briefed length, or what a trim or an extend set")
    worked_min: float | None = Field(description="minutes in work, holds left out; None: start not known")
    longer_min: float | None = Field(description="worked less briefed length, of a finished task")
    held_min: float


class LaneDebrief(StateModel):
    """One lane. `ledger` adds up to `difference_min`."""

    kind: Literal["crew", "arm", "other"]
    briefed_end_pet_min: float | None = Field(description="None: no briefed work")
    end_pet_min: float | None = Field(description="end of the lane's last work, projected if it is still to come")
    difference_min: float | None
    tasks: list[TaskRow]
    segments: list[Segment]
    briefed: list[Segment]
    ledger: list[LedgerLine] = Field(description="empty when the difference is not known")


class DecisionFact(StateModel):
    """A decision, with the figures of its instant: of what the room had by then, the decision itself left out."""

    event: str
    kind: str
    at: StateInstant
    pet_min: float
    by: str | None
    text: str
    end_pet_min: float | None = Field(description="projected end at plan pace before it")
    p10_pet_min: float | None
    p50_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None
    margin_min: float | None
    limit: LimitState
    ahead_min: dict[str, float | None]
    least_suit: str | None = Field(description="suit and consumable with the least margin")
    least_suit_margin_min: float | None
    end_after_pet_min: float | None = Field(description="projected end at plan pace with it")
    chosen: Any = Field(default=None, description="the figures that were recorded with it, as they were recorded")


class SuitUse(StateModel):
    """One consumable of one suit: kg, or Wh for the battery."""

    suit: str
    consumable: str
    lanes: list[str]
    loaded: float
    reserve: float
    planned_use: float | None = Field(description="modelled use of the briefed plan, to its end")
    used: float | None = Field(description="loaded less what is left")
    left: float | None
    above_reserve: float | None
    last_reading: float | None
    last_reading_pet_min: float | None
    factor: float | None = Field(description="actual over modelled use, shrunk")
    flags: list[str]


class ProjectionPoint(StateModel):
    """What the room could read off the board at one instant."""

    pet_min: float
    plan_pace_pet_min: float | None
    p10_pet_min: float | None
    p50_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None
    limit_pet_min: float
    ahead_min: dict[str, float | None]


class LeftTask(StateModel):
    """A task that this sortie leaves, and what it needs."""

    task: str
    title: str
    because: LeftBecause
    why: str
    remaining_min: float
    remaining_from: Literal["briefed length", "estimate", "briefed length less work done", "briefed length again"]
    worked_min: float
    lanes: list[str]
    worksite: str | None
    activity: str | None
    needs: list[str] = Field(description="kinds of window")
    after_left: list[str] = Field(description="comes after these, which are left as well")
    after_done: list[str] = Field(description="came after these, which are done")
    given: Annotated[Task, Field(description="as the plan or the log has it")]


class LeftOpen(StateModel):
    """What of the plan was prepared and is not settled: it goes with the carry-over."""

    contingencies: list[str] = Field(default=[], description="not inserted, or inserted and over, of what is left")
    alternatives: dict[str, str] = Field(default={}, description="nothing of them begun; with the option in force")


class EndFact(StateModel):
    """The end of the sortie: the latest finish over the crew lanes, as briefed and as run."""

    briefed_pet_min: float | None
    pet_min: float | None = Field(description="actual; projected at plan pace while the sortie has not ended")
    difference_min: float | None
    over_pet_min: float | None = Field(description="when `end` was logged")


class Debrief(StateModel):
    """The debrief of a sortie, or of what is known of it so far."""

    sortie: str
    title: str
    rehearsal: str = Field(default="", description="of which recorded run it is a rehearsal, in words; empty: of none")
    now: StateInstant
    pet_min: float
    pet_zero: StateInstant
    so_far: bool = Field(description="the sortie has not ended: ends are projected at plan pace")
    events: int
    basis: str
    end: EndFact
    limit: LimitState
    lanes: dict[str, LaneDebrief]
    decisions: list[DecisionFact]
    suits: list[SuitUse]
    projections: list[ProjectionPoint]
    discrepancies: list[Discrepancy]
    unread: list[Unread]
    carry_over: list[LeftTask]
    left_open: LeftOpen = Field(default=LeftOpen(), description="what goes with the carry-over")
    caution: str

    @property
    def said_above(self) -> str:
        """What stands above every page and table: the caution, and before it of which run it is a rehearsal."""
        return f"{self.rehearsal}. {self.caution}" if self.rehearsal else self.caution
