"""The models of a debrief. Times are PET minutes, lengths are minutes.

A difference is actual less briefed: positive is later or longer than briefed, negative is earlier or shorter.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from dashboard.core.base.findings import Discrepancy, StateInstant, StateModel, Unread
from dashboard.core.deferral.call import CallWord
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
WaitFor = Literal["lane", "arrival", "arm", "window", "settling", "not before", "no reason"]
LeftBecause = Literal["deferred", "broken off", "on hold", "in work", "not done", "get-ahead"]


class Segment(StateModel):
    """An interval of a lane with one activity. The segments of a lane neither overlap nor leave gaps."""

    kind: SegmentKind
    task: str | None = None
    why: str | None = Field(default=None, description="reason of a hold; None: no reason was given")
    from_pet_min: float
    to_pet_min: float

    @property
    def minutes(self) -> float:
        """Its length in minutes."""
        return self.to_pet_min - self.from_pet_min


class LedgerLine(StateModel):
    """Minutes that a lane lost (positive) or gained (negative) against the brief, and their cause."""

    kind: LedgerKind
    minutes: float
    task: str | None = None
    why: str | None = Field(default=None, description="reason of a hold")
    waited_for: WaitFor | None = Field(default=None, description="what a wait was for; None: the line is no wait")
    name: str | None = Field(default=None, description="the lane, kind of window or task that a wait was for")


class TaskRow(StateModel):
    """One task, as run and as briefed. None: not briefed, not begun, not finished, or not known."""

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
    longer_min: float | None = Field(description="minutes worked less briefed length; None: not finished")
    held_min: float
    remarks: list[str] = Field(default=[], description="remarks of the log that name the task, in the order of the log")


class LaneDebrief(StateModel):
    """One lane. The lines of `ledger` add up to `difference_min`."""

    kind: Literal["crew", "arm", "other"]
    briefed_end_pet_min: float | None = Field(description="None: no briefed work")
    end_pet_min: float | None = Field(description="end of the lane's last work, projected if it is still to come")
    difference_min: float | None
    tasks: list[TaskRow]
    segments: list[Segment]
    briefed: list[Segment]
    ledger: list[LedgerLine] = Field(description="empty when the difference is not known")


class LostTo(StateModel):
    """One cause of lost minutes: the crew lanes that lost minutes to it, and the line of the one that lost most."""

    lanes: list[str]
    line: LedgerLine


class ContingencyFact(StateModel):
    """A contingency that was inserted."""

    contingency: str
    trigger: str
    inserted_pet_min: float | None
    worked_min: dict[str, float] = Field(description="minutes that each lane worked on its tasks")


class DecisionFact(StateModel):
    """A decision, with the figures that the room had at that instant, before the decision was applied."""

    event: str
    kind: str
    at: StateInstant
    pet_min: float
    by: str | None
    text: str
    end_pet_min: float | None = Field(description="projected end at plan pace without the decision")
    p10_pet_min: float | None
    p50_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None
    margin_min: float | None
    limit: LimitState
    ahead_min: dict[str, float | None]
    least_suit: str | None = Field(description="suit and consumable with the least margin")
    least_suit_margin_min: float | None
    end_after_pet_min: float | None = Field(description="projected end at plan pace with the decision")
    chosen: Any = Field(default=None, description="the figures that were recorded with the decision, unchanged")
    entered_on: str | None = Field(
        default=None, description="the figures that the board showed when it was entered, in words; None: not entered late"
    )
    shown_then: str | None = Field(
        default=None, description="the figures of its own time as recorded with it, in words; None: not entered late"
    )


class CallFact(StateModel):
    """A change of the call to the room, as judged from what was known then."""

    pet_min: float
    call: CallWord
    why: str
    by_pet_min: float | None = Field(description="PET by which the first part had to be decided; None: no call")
    for_now: list[str] = Field(default=[], description="what was proposed for now, in words; empty unless it is to decide")
    changed_by: str = Field(default="", description="what changed the call, in words")


class SuitUse(StateModel):
    """One consumable of one suit: kg, or Wh for the battery."""

    suit: str
    consumable: str
    lanes: list[str]
    loaded: float
    reserve: float
    planned_use: float | None = Field(description="modelled use of the briefed plan, up to its end")
    used: float | None = Field(description="loaded less left")
    left: float | None
    above_reserve: float | None
    last_reading: float | None
    last_reading_pet_min: float | None
    factor: float | None = Field(description="actual over modelled use, shrunk towards 1")
    flags: list[str]


class ProjectionPoint(StateModel):
    """The figures that the board showed at one instant."""

    pet_min: float
    plan_pace_pet_min: float | None
    p10_pet_min: float | None
    p50_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None
    limit_pet_min: float
    ahead_min: dict[str, float | None]


class LeftTask(StateModel):
    """A task that this sortie leaves to the next, and what it needs."""

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
    needs: list[str] = Field(description="kinds of window that it needs")
    after_left: list[str] = Field(description="tasks that it comes after and that are left as well")
    after_done: list[str] = Field(description="tasks that it comes after and that are not left")
    given: Annotated[Task, Field(description="its table in the plan, or in the `add` event")]


class LeftOpen(StateModel):
    """The contingencies and alternatives that go with the carry-over; see `carry_over.left_open`."""

    contingencies: list[str] = Field(default=[], description="contingencies that may still happen to the tasks left")
    alternatives: dict[str, str] = Field(default={}, description="alternative with no task begun: its option in force")


class EndFact(StateModel):
    """The end of the sortie: the latest finish over the crew lanes, as briefed and as run."""

    briefed_pet_min: float | None
    pet_min: float | None = Field(description="actual; projected at plan pace while the sortie has not ended")
    difference_min: float | None
    over_pet_min: float | None = Field(description="time of the `end` event; None: not ended")


class Debrief(StateModel):
    """The debrief of a sortie; before its end, of the part known so far."""

    sortie: str
    title: str
    rehearsal: str = Field(default="", description="in words, which recorded run it rehearses; empty: it is no rehearsal")
    setting: str = Field(default="", description="setting of the recorded run (pool, flight ...); empty: not said")
    typed_afterwards: bool = Field(
        default=False, description="every event was received after the last one had happened: nobody knew any of it from the log"
    )
    now: StateInstant
    pet_min: float
    pet_zero: StateInstant
    so_far: bool = Field(description="the sortie has not ended: ends are projected at plan pace")
    events: int
    basis: str
    end: EndFact
    limit: LimitState
    lanes: dict[str, LaneDebrief]
    causes: list[LostTo] = Field(default=[], description="the largest causes of lost minutes of the crew, the largest first")
    contingencies: list[ContingencyFact] = Field(default=[], description="contingencies that were inserted")
    calls: list[CallFact] = Field(default=[], description="each change of the call; empty: there was none, or nothing was drawn")
    decisions: list[DecisionFact]
    suits: list[SuitUse]
    projections: list[ProjectionPoint]
    discrepancies: list[Discrepancy]
    unread: list[Unread]
    carry_over: list[LeftTask]
    left_open: LeftOpen = Field(default=LeftOpen(), description="contingencies and alternatives of the carry-over")
    caution: str

    @property
    def said_above(self) -> str:
        """The heading of every page and table: the caution, preceded by the name of the run if this is a rehearsal."""
        return f"{self.rehearsal}. {self.caution}" if self.rehearsal else self.caution
