"""What the plan can bear, as one object: the command prints it, draws it and writes it as JSON.

All times are PET minutes. Late starts and lost time are about a sortie that has gone at plan pace until then; all the rest is
about the brief at PET zero.
"""

from __future__ import annotations

from pydantic import Field

from dashboard.core.base.findings import StateModel


class Cut(StateModel):
    """What goes so that something is reached."""

    reached: bool = Field(description="whether giving things up reaches it; False: nothing that may go is enough")
    goes: list[str] = Field(description="what goes, in words; empty when nothing has to")
    value_lost: dict[int, float] = Field(description="priority class: value lost, class 1 first")
    in_by_limit: float | None = Field(default=None, description="chance in time with it; None: found at plan pace only")
    proven: bool = Field(default=False, description="it is proven that nothing that costs less reaches it")


class TaskBears(StateModel):
    """How late one task may start, and what goes first."""

    task: str
    title: str
    lanes: list[str]
    start_pet_min: float = Field(description="projected start at plan pace")
    finish_pet_min: float = Field(description="projected finish at plan pace")
    latest_start_pet_min: float | None = Field(
        description="latest start at plan pace that still meets the limit; None: no work of the crew waits for it"
    )
    slack_min: float | None = Field(description="latest start less projected start; negative: too late as briefed")
    cut: Cut | None = Field(description="what goes when it starts 15 min after that; None: not worked out, see `left_out`")


class LostTime(StateModel):
    """What it costs when everybody stands still for a while, at one hour of the sortie."""

    pet_min: float = Field(description="when it begins")
    lost_min: float
    in_by_limit_before: float | None = Field(description="chance in time without it; None: nothing of the crew remains")
    in_by_limit_after: float | None
    end_later_min: float | None = Field(description="by how much the end at plan pace moves")
    cut: Cut | None = Field(description="what goes to reach the wanted chance all the same; None: not worked out, see `left_out`")


class Delay(StateModel):
    """Time lost right before one task, and what that costs."""

    task: str
    title: str
    delay_min: float
    start_pet_min: float = Field(description="projected start without the delay")
    end_later_min: float = Field(description="by how much the end at plan pace moves")
    in_by_limit_before: float | None
    in_by_limit_after: float | None
    window_missed: list[str] = Field(description="tasks that no window holds any more at plan pace")


class HourBack(StateModel):
    """The way back if everybody turned back at one hour."""

    pet_min: float
    places: dict[str, str | None] = Field(description="crew lane: worksite where it is then; None: not known")
    back_min: dict[str, float | None] = Field(description="crew lane: minutes to the airlock; None: not known")
    spare_min: float = Field(description="minutes to spare when the crew is in; negative: too late")
    set_by: str


class LeaveBy(StateModel):
    """One worksite, and by when it must have been left."""

    worksite: str
    leave_by_pet_min: float
    set_by: str | None
    leaves_pet_min: float | None = Field(description="when the last work there is expected to end (P50)")


class CertaintyStep(StateModel):
    """One step of the ladder of certainty at PET zero."""

    wanted: float | None = Field(description="wanted chance; None: in time at plan pace")
    cut: Cut


class Bears(StateModel):
    """What a plan can bear."""

    sortie: str
    title: str
    limit_pet_min: float = Field(description="the planned limit less reserve")
    end_plan_pace_pet_min: float | None
    in_by_limit: float | None = Field(description="chance as briefed")
    confidence: float
    tasks: list[TaskBears]
    lost: list[LostTime]
    worst: list[Delay] = Field(description="the delays that cost most, the worst first")
    turn_back_pet_min: float | None = Field(description="turn-back time of the crew; None: no crew task is in the plan")
    turn_back_set_by: str | None
    hours: list[HourBack]
    leave_by: list[LeaveBy]
    ladder: list[CertaintyStep]
    left_out: list[str] = Field(description="what was not worked out, in words")
    caution: str
