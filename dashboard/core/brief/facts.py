"""The models of a brief. Times are PET minutes, lengths are minutes.

Everything that is projected comes from the state at PET zero without events, so it agrees with `tetherline state` there.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from dashboard.core.base.findings import StateInstant, StateModel
from dashboard.core.state.model import EndState, LimitState, SuitState, WorksiteState

WaitFor = Literal["task", "lane", "window", "not before", "no reason"]
FillHow = Literal["get-ahead", "hand over", "bring forward"]
DecisionKind = Literal["ending", "window", "leave by", "turn back", "give up"]
ChangeKind = Literal["added", "removed", "moved", "lengthened", "shortened", "changed"]


class Wait(StateModel):
    """What a lane waits for. Of several things that end at the same time the first of this order is named: task, lane, window."""

    kind: WaitFor
    name: str | None = Field(default=None, description="the task, lane or kind of window; None: not before, or no reason")


class Fill(StateModel):
    """A task that fits into a wait."""

    task: str
    how: FillHow
    min: float = Field(description="its likely length")


class BriefWait(StateModel):
    """A stretch of a lane without briefed work, between two of its tasks."""

    lane: str
    from_pet_min: float
    to_pet_min: float
    before: str = Field(description="the task that ends it")
    wait: Wait = Field(description="what the task before which the lane waits, waits for, as briefed")
    worksite: str | None = Field(description="where the lane waits; None: not known")
    fills: list[Fill] = Field(description="tasks that fit into it at that worksite, by the plan")


class LaneThen(StateModel):
    """One lane when a step begins."""

    task: str | None = Field(description="what it does; None: it has no work then")
    worksite: str | None = Field(description="where it is; on a leg the worksite that it left; None: not known")
    going_to: str | None = Field(default=None, description="worksite at the end of the leg that it is on; None: it is on none")
    until_pet_min: float | None = Field(description="end of the task or of the wait; None: the lane has no work any more")
    wait: Wait | None = Field(default=None, description="what it waits for; None: it has work, or none any more")


class Before(StateModel):
    """A task that comes before a step."""

    task: str
    lag_min: float = Field(description="minutes between the two at least")
    needed: bool = Field(description="the step cannot be done unless that is done (`after`); False: order only (`follows`)")


class BriefWindow(StateModel):
    """A window of the sortie; windows of one kind that touch or overlap are one."""

    kind: str
    from_pet_min: float
    to_pet_min: float


class BriefCheck(StateModel):
    """A recurring check."""

    check: str
    title: str
    every_min: float
    lanes: list[str]
    due_pet_min: list[float] = Field(description="when it is due up to the briefed end, if every call is made on time")


class StepWindow(StateModel):
    """A window that a step needs."""

    kind: str
    from_pet_min: float | None = Field(description="of the window that holds the step as briefed; None: no window does")
    to_pet_min: float | None
    start_by_pet_min: float | None = Field(description="latest start with which its likely length still fits that window")
    next_from_pet_min: float | None = Field(description="when the next window opens that is long enough; None: there is none")


class GiveUp(StateModel):
    """How a step may be given up, in whole or in part."""

    defer: bool = Field(description="it may be taken out of the sortie")
    with_it: list[str] = Field(description="tasks that go along when it is deferred")
    trim_to_min: float | None = Field(description="its shortest useful length; None: it may not be trimmed")
    break_off_closeout_min: float | None = Field(description="close-out when it is broken off; None: it may not be broken off")
    hand_over_to: list[str]
    decide_by_pet_min: float | None = Field(
        description="until when it may be deferred: its expected start; None: it may not be deferred, or it is not projected"
    )


class BriefStep(StateModel):
    """One step of the brief: one task, as briefed."""

    number: int = Field(description="counted from 1, in order of briefed start")
    task: str
    title: str
    lanes: list[str]
    from_pet_min: float
    to_pet_min: float
    low_min: float
    likely_min: float
    high_min: float
    boxed: bool
    worksite: str | None = Field(description="where it is done; for a leg where it leads")
    is_leg: bool
    notes: str = Field(description="what the lead says of it, for instance what is in the hands")
    priority: int
    required: bool
    comes_after: list[Before]
    not_before_pet_min: float | None
    windows: list[StepWindow]
    lanes_then: dict[str, LaneThen] = Field(description="who is where and does what when the step begins")
    contingencies: list[str] = Field(description="contingencies that could come in here")
    alternative: str | None = Field(description="the alternative that it belongs to; None: to none")
    option: str | None = Field(description="the option of that alternative")
    is_default: bool = Field(description="False: only an option that is not the default brings it into the plan")
    endings_open: list[str] = Field(description="alternatives that are decided by now at the latest, since an option begins here")
    give_up: GiveUp
    projected_start_pet_min: float | None = Field(description="at plan pace; None: not in the plan of record")
    latest_start_pet_min: float | None = Field(
        description="latest start that still meets the limit; None: the end does not depend on it, or not in the plan of record"
    )
    float_min: float | None
    back_min: float | None = Field(description="minutes from its worksite to the airlock; None: not known")
    leave_by_pet_min: float | None = Field(description="latest PET to have left its worksite; None: no such time")


class GetAhead(StateModel):
    """A task that is done only with time in hand."""

    task: str
    title: str
    lanes: list[str]
    likely_min: float
    worksite: str | None
    notes: str


class ContingencyStep(StateModel):
    """One step of a contingency."""

    task: str
    title: str
    lanes: list[str]
    low_min: float
    likely_min: float
    high_min: float
    worksite: str | None
    notes: str
    comes_after: list[Before]


class BriefContingency(StateModel):
    """A contingency, its steps, and where it could come in."""

    contingency: str
    title: str
    trigger: str
    hold: list[str] = Field(description="tasks that are put on hold and resumed afterwards")
    steps: list[ContingencyStep]
    comes_in_at: list[str] = Field(
        description="the tasks that it holds; without any, the tasks that share a lane and a worksite with one of its steps; "
        "empty: it may come in at any time"
    )


class Ending(StateModel):
    """An alternative: an ending that is open when the plan is briefed."""

    alternative: str
    title: str
    default: str
    options: dict[str, list[str]] = Field(description="option: its tasks")
    decide_by_pet_min: float | None = Field(description="expected start of the first task that another option leaves out")
    decide_by: str = Field(description="why then, in words; empty: there is no such time")


class Decision(StateModel):
    """A point by which something is decided or must have happened."""

    by_pet_min: float
    kind: DecisionKind = Field(description="`give up` only for tasks below the first priority class")
    name: str = Field(description="the alternative, task or worksite; for a turn back the lanes")
    detail: str = Field(default="", description="for a window its kind; for the others what sets the time, in words")
    next_pet_min: float | None = Field(default=None, description="for a window when the next opens; None: there is none")


class BriefChange(StateModel):
    """One difference from the last issue of the brief."""

    kind: ChangeKind
    part: str = Field(description="the table of the plan file, such as `task` or `window`")
    name: str = Field(description="the id of the entry; empty for the sortie itself")
    title: str = ""
    field: str = Field(default="", description="the field of the plan file; empty: the whole entry")
    before: str = Field(default="", description="as the plan file writes it; empty: not given")
    after: str = ""


class Issue(StateModel):
    """The last issue, and what is different from it."""

    sortie: str
    revision: str
    changes: list[BriefChange]

    def changed(self, part: str) -> set[str]:
        """Names of the entries of one part that changed or were added.

        Parameters
        ----------
        part
            A table of the plan file, such as ``task``.

        Returns
        -------
        set of str
        """
        return {one.name for one in self.changes if one.part == part and one.kind != "removed"}


class Brief(StateModel):
    """The brief of a sortie."""

    sortie: str
    title: str
    revision: str = Field(description="digest of the content of the plan; comments and layout of the file do not count")
    start: StateInstant = Field(description="planned PET zero")
    planned_limit_pet_min: float
    reserve_min: float
    confidence: float = Field(description="wanted probability of being in by the limit")
    limit: LimitState
    end: EndState = Field(description="as projected at PET zero without any event")
    lanes: dict[str, str] = Field(description="lane: its kind")
    worksites: dict[str, str] = Field(description="worksite: its title")
    windows: list[BriefWindow]
    checks: list[BriefCheck]
    ways: dict[str, WorksiteState] = Field(description="way back and leave-by time of the worksites with work")
    suits: dict[str, SuitState] = Field(description="budget at the briefed workload")
    suits_not_known: dict[str, str] = Field(description="field of a suit: why it is not known, in words")
    steps: list[BriefStep]
    waits: list[BriefWait]
    get_aheads: list[GetAhead]
    contingencies: list[BriefContingency]
    endings: list[Ending]
    decisions: list[Decision] = Field(description="in order of time")
    against: Issue | None = Field(default=None, description="the last issue; None: it was not compared")
    caution: str

    def titles(self) -> dict[str, str]:
        """Title of each step, get-ahead and contingency step by its task."""
        found = {step.task: step.title for step in self.steps}
        found |= {one.task: one.title for one in self.get_aheads}
        return found | {step.task: step.title for one in self.contingencies for step in one.steps}

    def place(self, worksite: str | None) -> str:
        """Title of a worksite.

        Parameters
        ----------
        worksite
            Its id; None: not known.

        Returns
        -------
        str
            The id where the plan gives no title; empty: not known.
        """
        return (self.worksites.get(worksite) or worksite) if worksite else ""


def brief_json_schema() -> dict[str, Any]:
    """The JSON Schema of `Brief`, as published."""
    return Brief.model_json_schema(mode="serialization")

