"""`SortieState`: the one object that every screen, command and report shows.

All times are PET minutes; positive `ahead_min` is ahead. A value of None is unknown or does not apply. `not_known` gives
the reason in words where the description of the field does not. No value is a placeholder: each number was computed.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from dashboard.core.base.findings import Discrepancy, StateInstant, StateModel, Unread
from dashboard.core.deferral.advice_model import Advice
from dashboard.core.record.lifecycle import TaskWord
from dashboard.core.record.record import Origin, ZeroFrom
from dashboard.core.schedule.because import Because, MayMiss
from dashboard.core.schedule.waits import Waits

AlertLevel = Literal["note", "alert"]
LaneWord = Literal["in work", "on hold", "close-out", "waiting", "finished"]


class LaneState(StateModel):
    """One lane."""

    kind: Literal["crew", "arm", "other"]
    suit: str | None
    ahead_min: float | None = Field(description="positive is ahead; None before PET zero or with no briefed work")
    ahead_frozen: bool = Field(description="the lane's last task is done: the figure no longer moves")
    task: str | None = Field(description="the task in work (the latest started), else the task on hold, else None")
    state: LaneWord
    held: bool = Field(description="the lane itself was put on hold")
    hold_reason: str | None = Field(default=None, description="why the lane itself is on hold; None: not said, or not held")
    next: str | None = Field(description="the next task of the plan of record in this lane")
    next_start_pet_min: float | None
    next_waits: Waits | None
    on_hold: list[str] = Field(description="tasks of this lane that are on hold")
    end_pet_min: float | None = Field(description="projected finish of the lane's last task, plan pace")
    worksite: str | None = Field(description="of its last begun task; on a leg the one that it left; None: not known")
    going_to: str | None = Field(default=None, description="worksite at the end of the leg that it is on; None: it is on none")
    back_min: float | None = Field(description="minutes back to the airlock from where it is, interpolated on a leg")
    leave_by_pet_min: float | None = Field(
        default=None, description="latest PET to have left where it is, or where its leg goes; None: no such time"
    )
    turn_back_pet_min: float | None = Field(
        description="latest PET to drop everything that may be dropped and still bring this lane and its partner inside by the "
        "limit with every consumable above its reserve on arrival"
    )
    turn_back_set_by: str | None = Field(default=None, description="what sets the turn-back time, in words")
    pace: float | None = Field(
        description="learned factor on hands-on work (not of the crew: all work) that remains; None: no finished task tells of it"
    )
    pace_p10: float | None = Field(default=None, description="80 % of the belief about `pace` lie between this and `pace_p90`")
    pace_p90: float | None = Field(default=None, description="see `pace_p10`")
    pace_told: bool = Field(
        default=False, description="whether the pace can be told from the brief: 1 lies outside `pace_p10` to `pace_p90`"
    )
    pace_tasks: int = Field(description="finished tasks of the lane that the pace was learned from")
    order: list[str] = Field(description="what remains in the lane, in the order of the plan of record")


class TaskState(StateModel):
    """One task: in the plan of record, or removed from it."""

    title: str
    state: TaskWord
    in_plan: bool = Field(description="whether it is in the plan of record; False: deferred, or of an option not taken")
    origin: Origin
    lanes: list[str]
    start_pet_min: float | None = Field(description="actual start; None: not started, or start unknown")
    finish_pet_min: float | None
    worked_min: float | None = Field(description="minutes in work so far, holds left out; None: unknown")
    planned_min: float = Field(description="planned length: likely duration, or what a trim or an extend set")
    remaining_min: float | None = Field(description="minutes of work left at plan pace; None: nothing remains")
    estimate_min: float | None = Field(description="standing estimate of minutes remaining, less work since")
    briefed_start_pet_min: float | None
    briefed_finish_pet_min: float | None
    projected_start_pet_min: float | None
    projected_finish_pet_min: float | None
    p10_pet_min: float | None
    p90_pet_min: float | None
    float_min: float | None = Field(
        description="minutes it can slip without moving the plan-pace end; None: finished, or the end does not depend on it"
    )
    latest_start_pet_min: float | None = Field(description="latest start that still meets the limit")
    ahead_min: float | None = Field(description="briefed finish less actual or projected finish")
    waits: Waits | None = Field(description="what sets its projected start")
    window_missed: list[str] = Field(description="needed kinds of window with no window left that holds the task")
    sets_end: bool = Field(description="on the chain that sets the end of the sortie")
    get_ahead: bool
    required: bool
    priority: int
    worksite: str | None
    hold_reason: str | None
    close_out_until_pet_min: float | None
    trimmed: bool = Field(description="cut short by a decision")
    extended: bool = Field(description="let run longer than briefed by a decision")
    why_out: str | None = Field(description="why it is out of the plan of record, in words")
    events: list[str] = Field(description="events that made this state, in order")


class Driver(StateModel):
    """A task that drives the projected end or its spread."""

    task: str = Field(description="a task, or `pace`: the pace that all tasks share")
    sets_end: float = Field(description="share of draws in which it lies on the chain that sets the end")
    spread_share: float = Field(description="share of the variance of the end that moves with its duration")


class EndState(StateModel):
    """The end of the sortie: the latest finish over the crew lanes."""

    briefed_pet_min: float | None
    plan_pace_pet_min: float | None = Field(description="projected; once the sortie has ended the latest finish as it was")
    actual_pet_min: float | None = Field(
        description="when the crew was in: the latest finish, or the time of `end` if no crew task was done; None: not ended"
    )
    closed_pet_min: float | None = Field(default=None, description="when `end` closed the sortie; None: not ended")
    margin_min: float | None = Field(
        description="limit less projected end (less the actual end once there is one); negative is over the limit"
    )
    p10_pet_min: float | None
    p50_pet_min: float | None
    p90_pet_min: float | None
    in_by_limit: float | None = Field(
        description="probability of being in by the planned limit less reserve with every consumable above its reserve"
    )
    short_of: str | None = Field(
        default=None,
        description="what most simulated runs that are not in time are past: `the limit`, or what a suit lasts, such as "
        "`suit A water`; None: every one is in time, or none was drawn",
    )
    drivers: list[Driver] = Field(default=[], description="what drives the end and its spread, strongest first")
    because: list[Because] = Field(
        default=[],
        description="expected end (P50, else the plan-pace end) less the briefed end, taken apart; largest first",
    )
    may_miss: list[MayMiss] = Field(
        default=[], description="windows that some simulated runs miss, but not most; the largest share first"
    )
    chain: list[str] = Field(description="tasks that set the plan-pace end, first to last")
    chain_starts_with: Waits | None


class DoubtedReading(StateModel):
    """A reading that is lower than any workload explains, and no later reading has settled."""

    value: float
    pet_min: float
    expected: float = Field(description="amount that was to be expected at its time")


class ConsumableState(StateModel):
    """One consumable of a suit: kg, or Wh for the battery."""

    left: float | None = Field(description="estimated amount left now: last believed reading less modelled use since")
    reading: float | None = Field(description="last reading that is believed; None: none yet, `left` starts from `loaded`")
    reading_pet_min: float | None
    doubted: DoubtedReading | None = Field(
        default=None, description="the figures count from this reading until a later one settles it; None: no reading is in doubt"
    )
    loaded: float
    reserve: float
    need: float | None = Field(description="modelled use from now to the expected end (P50), else to the plan-pace end")
    need_p90: float | None = Field(description="modelled use from now to the P90 end of the sortie")
    rate_per_h: float | None = Field(description="mean future use: kg/h, or W for the battery")
    factor: float | None = Field(description="actual over modelled use, shrunk towards 1; it scales the modelled future use")
    reserve_reached_pet_min: float | None = Field(
        description="when `left` falls to the reserve, if the crew follows the plan of record; past its plan-pace end "
        "use goes on at its mean rate; None: `not_known` says why"
    )
    margin_min: float | None = Field(
        description="reserve reached less expected end (P50), or less plan-pace end where no end is expected; negative is short"
    )
    margin_plan_pace_min: float | None = Field(default=None, description="reserve reached less plan-pace end")
    assumed: bool = Field(
        default=False,
        description="neither the plan nor a published source gives its rate, and no reading shows its use: it limits nothing",
    )
    stale: bool = Field(default=False, description="the last reading, on which every number here rests, is too old")
    flags: list[str] = Field(
        default=[], description="in words: findings about the readings, that the rate is assumed, and `below the reserve`"
    )


class SuitState(StateModel):
    """One suit."""

    lanes: list[str]
    limiting: str | None = Field(description="the consumable that runs out first, of those that are not assumed")
    limit_pet_min: float | None
    margin_min: float | None = Field(description="of the limiting consumable, on the same basis as there")
    margin_plan_pace_min: float | None = Field(default=None, description="of the limiting consumable")
    consumables: dict[str, ConsumableState]


class LimitState(StateModel):
    """The limit of the sortie: the planned limit less reserve, or the first suit reserve that is reached, if earlier."""

    pet_min: float
    set_by: str = Field(description="what sets it, in words")


class WorksiteState(StateModel):
    """A worksite that the crew is at or has work to do at, and by when it must have been left."""

    return_min: float = Field(description="minutes back to the airlock")
    leave_by_pet_min: float | None = Field(description="the earlier of the plan's time and the one that the way back gives")
    leave_by_set_by: str | None = Field(description="which of the two it is, in words")
    leaves_pet_min: float | None = Field(
        description="when the crew's work there is projected to end: P50, else plan pace; None: none remains"
    )
    last_task: str | None = Field(description="the task that ends last there")


class CheckState(StateModel):
    """State of one recurring check in one lane."""

    check: str
    title: str
    lane: str
    last_pet_min: float | None
    due_pet_min: float
    overdue_min: float = Field(description="minutes past due; 0 when not due")


class Alert(StateModel):
    """A situation that needs an action."""

    id: str
    level: AlertLevel = Field(default="alert", description="`note`: the action is asked for and not yet pressing")
    what: str
    since_pet_min: float | None = Field(description="None: not searched for, or before PET zero")
    by_pet_min: float | None
    do: str


class LogEntry(StateModel):
    """One event as the log shows it."""

    id: str
    kind: str
    at: StateInstant
    received: StateInstant | None
    pet_min: float | None
    seq: int | None
    by: str | None
    entered_by: str | None = Field(default=None, description="whose key it was entered with, where `by` names another")
    text: str
    late_min: float | None = Field(description="minutes between `at` and `received`; None: too short to show, or not known")
    amended_by: list[str]
    withdrawn_by: str | None
    far_off: str | None = Field(default=None, description="in words, how far its time lies off the sortie; None: it does not")
    pending: bool = Field(default=False, description="dated after now: it counts from that time on")
    came_with: list[str] = Field(default=[], description="for a decision: events recorded together with it to carry it out")
    can_take_back: bool = Field(default=False, description="a decision with an effect still in force that can be taken back")


class Basis(StateModel):
    """The inputs that the numbers rest on."""

    plan: str = Field(description="in words: the briefed plan, and how many decisions were applied to it")
    events: int = Field(description="events that count")
    decisions: int
    last_event: str | None
    last_event_at: StateInstant | None
    last_reading_at: StateInstant | None
    pet_zero: StateInstant
    pet_zero_from: ZeroFrom
    pet_zero_doubt: str | None = Field(
        default=None,
        description="why the planned start is probably not PET zero, in words; the figures still use it as PET zero",
    )


class SortieState(StateModel):
    """The sortie at one instant."""

    sortie: str
    title: str
    now: StateInstant
    pet_min: float = Field(description="negative before PET zero")
    mode: Literal["live", "replay", "paused"]
    ended: bool
    lanes: dict[str, LaneState]
    tasks: dict[str, TaskState]
    end: EndState
    suits: dict[str, SuitState]
    limit: LimitState
    worksites: dict[str, WorksiteState] = Field(description="those that the crew is at or has work to do at")
    advice: Advice
    alternatives: dict[str, str] = Field(description="option in force of each alternative")
    alternatives_open: list[str]
    contingencies: dict[str, bool] = Field(description="contingency name: inserted or not")
    checks: list[CheckState]
    alerts: list[Alert]
    discrepancies: list[Discrepancy]
    unread: list[Unread]
    basis: Basis
    not_known: dict[str, str] = Field(description="field: why it is not known, in words")


def state_json_schema() -> dict[str, Any]:
    """The JSON Schema of `SortieState`, as published."""
    return SortieState.model_json_schema(mode="serialization")
