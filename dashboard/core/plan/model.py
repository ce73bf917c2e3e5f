"""The plan of a sortie: frozen models of the plan file's tables.

A `Plan` has always passed the field checks. It has passed the cross-checks only if `dashboard.log.planfile.load_plan` or
`dashboard.core.plan.check.build_plan` made it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    PlainSerializer,
    field_validator,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue

from dashboard.core.base.times import instant_text, parse_instant, parse_minutes

CONSUMABLES = ("oxygen", "co2", "battery", "water")
CONSUMABLE_NAMES: Mapping[str, str] = {"oxygen": "oxygen", "co2": "CO2 removal", "battery": "battery", "water": "water"}
CONSUMABLE_UNITS: Mapping[str, str] = {"oxygen": "kg", "co2": "kg", "battery": "Wh", "water": "kg"}
WORKLOAD_WORDS = ("rest", "light", "moderate", "heavy")
LONGEST_MIN = 24 * 60.0
HIGHEST_W = 2500.0

Minutes = Annotated[float, BeforeValidator(parse_minutes, json_schema_input_type=float | str)]
Instant = Annotated[
    datetime,
    BeforeValidator(parse_instant, json_schema_input_type=str),
    PlainSerializer(instant_text, when_used="json"),
]
Identifier = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^\S+$")]
MOST_NAMES = 200  # in one list: far more than a sortie has tasks, and few enough to be shown
Names = Annotated[tuple[Identifier, ...], Field(max_length=MOST_NAMES)]


class Model(BaseModel):
    """Base of every plan table: frozen, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False)


class Sortie(Model):
    """Table ``[sortie]``."""

    id: Identifier = Field(description="name of the sortie; events may carry it")
    title: str = Field(default="", description="what the sortie is about, in words")
    start: Instant = Field(description="planned PET zero; the clock event sets the real one")
    limit: Minutes = Field(gt=0, le=LONGEST_MIN, description="planned latest end, PET minutes")
    reserve: Minutes = Field(default=0.0, ge=0, description="minutes of the limit that the plan must not use")
    confidence: float = Field(default=0.9, gt=0, lt=1, description="wanted probability of being in by the limit")
    lead: Minutes = Field(
        default=20.0, ge=0, le=LONGEST_MIN,
        description="minutes that the room wants between a call to decide and the decide-by time",
    )

    @property
    def limit_less_reserve_pet_min(self) -> float:
        """The latest end that leaves the reserve untouched, PET minutes."""
        return self.limit - self.reserve


def _a_metabolic_rate(value: float | str) -> float | str:
    if isinstance(value, float) and not 0 <= value <= HIGHEST_W:
        raise ValueError(f"'workload' from 0 to {HIGHEST_W:g} W, not {value:g}")
    return value


Workload = Annotated[float | Literal["rest", "light", "moderate", "heavy"], AfterValidator(_a_metabolic_rate)]


class Lane(Model):
    """Table ``[[lane]]``: one worker of the plan."""

    id: Identifier = Field(description="name of the lane, such as EV1")
    kind: Literal["crew", "arm", "other"] = Field(description="crew (a crew member), arm (the robotic arm) or other")
    suit: Identifier | None = Field(default=None, description="crew lanes only")


class Consumable(Model):
    """One consumable of a suit; kg for oxygen, co2 and water, Wh for battery."""

    loaded: float = Field(gt=0, le=1e6, description="what the suit has at PET zero; of co2 what the canister can take up")
    reserve: float = Field(default=0.0, ge=0, description="what must be left when the crew is inside")
    base: float | None = Field(default=None, ge=0, description="use per hour whatever the work; absent: a default")
    per_watt: float | None = Field(default=None, ge=0, description="use per hour per watt of metabolic rate")

    @model_validator(mode="after")
    def _reserve_fits(self) -> Consumable:
        if self.reserve >= self.loaded:
            raise ValueError(f"a reserve below what is loaded ({self.loaded:g}), not {self.reserve:g}")
        return self


class Suit(Model):
    """Table ``[[suit]]``."""

    id: Identifier = Field(description="name of the suit")
    oxygen: Consumable | None = Field(default=None, description="oxygen, kg")
    co2: Consumable | None = Field(default=None, description="what the canister can take up of CO2, kg")
    battery: Consumable | None = Field(default=None, description="battery, Wh")
    water: Consumable | None = Field(default=None, description="cooling water, kg")

    def consumables(self) -> dict[str, Consumable]:
        """The consumables that the plan gives for this suit, by name."""
        return {name: value for name in CONSUMABLES if (value := getattr(self, name)) is not None}


class Worksite(Model):
    """Table ``[[worksite]]``."""

    id: Identifier = Field(description="name of the worksite, as tasks and routes use it")
    title: str = Field(default="", description="the worksite in words")
    return_min: Minutes = Field(default=0.0, ge=0, le=LONGEST_MIN, alias="return", description="minutes to the airlock")
    return_workload: Workload = Field(
        default="moderate", description="metabolic rate on the way back to the airlock, W or a word"
    )
    leave_by: Minutes | None = Field(
        default=None, ge=0, le=LONGEST_MIN,
        description="latest PET to have left the worksite, by a rule of the sortie; absent: no such rule",
    )


class Window(Model):
    """Table ``[[window]]``: an interval of daylight, link or the like, in PET minutes."""

    kind: Identifier = Field(description="what the window is of, such as daylight; tasks ask for it in 'needs'")
    from_: Minutes = Field(alias="from", description="PET at which it opens")
    to: Minutes = Field(description="PET at which it closes")

    @model_validator(mode="after")
    def _runs_forward(self) -> Window:
        if self.to <= self.from_:
            raise ValueError(f"'to' after 'from' ({self.from_:g} min), not {self.to:g} min")
        return self


class Duration(Model):
    """Three-point duration in minutes. A single value stands for all three; three equal values are a timed wait."""

    low: float = Field(ge=0, description="the shortest that is to be expected, minutes")
    likely: float = Field(ge=0, le=LONGEST_MIN, description="what it takes most likely, minutes")
    high: float = Field(ge=0, description="the longest that is to be expected, minutes")
    exact: bool = Field(default=False, description="three equal values were given: a timed wait, which no pace changes")

    @classmethod
    def __get_pydantic_json_schema__(cls, core: Any, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """The schema of what a file may hold: one value or three, in minutes or ``"H:MM"``, or the three by name."""
        by_name = handler(core)
        one = {"anyOf": [{"type": "number", "minimum": 0}, {"type": "string"}]}
        three = {"type": "array", "items": one, "minItems": 3, "maxItems": 3}
        return {"anyOf": [*one["anyOf"], three, by_name]} if handler.mode == "validation" else by_name

    @model_validator(mode="before")
    @classmethod
    def _from_file(cls, value: Any) -> Any:
        if isinstance(value, dict | Duration):
            return value
        if isinstance(value, list | tuple):
            if len(value) != 3:
                raise ValueError(f"[low, likely, high], three values, not {len(value)}")
            low, likely, high = (parse_minutes(part) for part in value)
            exact = low == likely == high
        else:
            low = likely = high = parse_minutes(value)
            exact = False
        if min(low, likely, high) < 0:
            raise ValueError(f"minutes of zero or more, not {value!r}")
        if likely > LONGEST_MIN:
            raise ValueError(f"at most {LONGEST_MIN:g} minutes (24 hours), not {likely:g}")
        if not low <= likely <= high:
            raise ValueError(f"low <= likely <= high, not {low:g}, {likely:g}, {high:g}")
        if high > LONGEST_MIN:
            raise ValueError(f"at most {LONGEST_MIN:g} minutes (24 hours), not {high:g}")
        return {"low": low, "likely": likely, "high": high, "exact": exact}

    @property
    def without_range(self) -> bool:
        """Whether the brief gives one value above zero without a range, and the task is not a timed wait."""
        return self.low == self.high > 0 and not self.exact


class Route(Model):
    """Table ``[[route]]``: how long a leg between two worksites takes, either way."""

    from_: Identifier = Field(alias="from", description="worksite at one end")
    to: Identifier = Field(description="worksite at the other end")
    duration: Duration = Field(description="how long a leg takes, either way")
    workload: Workload | None = Field(default=None, description="metabolic rate on the way; absent: that of the leg")

    @model_validator(mode="after")
    def _joins_two_places(self) -> Route:
        if self.from_ == self.to:
            raise ValueError(f"'to' another worksite than 'from', not '{self.to}'")
        return self


class Follow(Model):
    """One entry of ``follows``: order only, if both are done; `lag` in minutes."""

    task: Identifier = Field(description="the task that comes before")
    lag: Minutes = Field(
        default=0.0, ge=0, le=LONGEST_MIN, description="minutes that must lie between its end and the start of this one"
    )


class Task(Model):
    """Table ``[[task]]`` (also inside a contingency, there without `start`)."""

    id: Identifier = Field(description="name of the task, short and without spaces")
    title: str = Field(default="", description="the task in words")
    lanes: Names = Field(
        min_length=1,
        description="who does it; several lanes make a joint task, which occupies all of them for its whole length",
    )
    start: Minutes | None = Field(
        default=None, ge=0, le=LONGEST_MIN, description="briefed start, PET minutes; absent for get-aheads"
    )
    duration: Duration = Field(
        description="how long it takes: one value, or [low, likely, high]; three equal values are a timed wait, which no pace "
        "changes"
    )
    shortest: Minutes | None = Field(default=None, ge=0, description="may be trimmed to this; absent: never trimmed")
    after: Names = Field(
        default=(), description="cannot be done unless those tasks are done: deferring one of them defers this one too"
    )
    follows: tuple[Follow, ...] = Field(
        default=(), max_length=MOST_NAMES,
        description="order only: begins after those tasks if both are done, with an optional lag in minutes",
    )
    together: Identifier | None = Field(
        default=None, description="tasks with the same word are done all or not at all; absent: not in such a group"
    )
    obliges: Names = Field(default=(), description="once this one is begun, those must be done")
    serves: Names = Field(default=(), description="of no use unless one of those is done")
    priority: int = Field(default=2, ge=1, le=9, description="1 is highest")
    value: float = Field(default=1.0, ge=0, le=1e6, description="what it is worth within its priority class")
    required: bool = Field(default=False, description="never deferred, trimmed or broken off")
    get_ahead: bool = Field(default=False, description="done only with time in hand; has no start")
    closeout: Minutes | None = Field(
        default=None, ge=0, le=LONGEST_MIN, description="minutes to leave safe; absent: never broken off"
    )
    can_move_to: Names = Field(default=(), description="lanes that it may be handed over to")
    worksite: Identifier | None = Field(default=None, description="where it is done")
    workload: Workload | None = Field(
        default=None, description="metabolic rate of the crew during it, W or one of rest, light, moderate, heavy"
    )
    needs: Names = Field(default=(), description="must lie wholly inside one window of each of these kinds")
    not_before: Minutes | None = Field(default=None, le=LONGEST_MIN, description="earliest PET at which it may begin")
    activity: str | None = Field(
        default=None, description="kind of work: tasks of other plans and runs with the same word are learned from together"
    )
    leg: Identifier | None = Field(
        default=None, description="the worksite that this task takes its lanes to; absent: the task is not a leg"
    )
    boxed: bool = Field(default=False, description="a boxed stop: its length is set beforehand, and no pace stretches it")
    notes: str = Field(default="", max_length=2000, description="what the lead says of it in the briefing")

    @field_validator("follows", mode="before", json_schema_input_type=tuple[Follow | Identifier, ...])
    @classmethod
    def _plain_ids_too(cls, value: Any) -> Any:
        if isinstance(value, list | tuple):
            return [{"task": part} if isinstance(part, str) else part for part in value]
        return value

    @model_validator(mode="after")
    def _fields_agree(self) -> Task:
        if self.shortest is not None and self.shortest > self.duration.likely:
            raise ValueError(
                f"'shortest' at most the likely duration ({self.duration.likely:g} min), not {self.shortest:g}"
            )
        if len(set(self.lanes)) != len(self.lanes):
            raise ValueError(f"each lane once in 'lanes', not {list(self.lanes)}")
        for key in ("obliges", "serves"):
            if self.id in getattr(self, key):
                raise ValueError(f"other tasks in '{key}', not '{self.id}' itself")
        return self

    @property
    def likely_min(self) -> float:
        """Likely duration, minutes."""
        return self.duration.likely


class Contingency(Model):
    """Table ``[[contingency]]``."""

    id: Identifier = Field(description="name of the contingency")
    title: str = Field(default="", description="the contingency in words")
    trigger: str = Field(default="", description="what must be seen for it to be inserted")
    hold: tuple[Identifier, ...] = Field(
        default=(), description="tasks put on hold when it is inserted, and resumed after it"
    )
    tasks: tuple[Task, ...] = Field(default=(), alias="task", description="its steps: tasks without a start")


class Alternative(Model):
    """Table ``[[alternative]]``: an ending still open when the plan is briefed."""

    id: Identifier = Field(description="name of the alternative")
    title: str = Field(default="", description="the ending that is still open, in words")
    default: str = Field(description="the option that the brief assumes")
    options: dict[str, tuple[Identifier, ...]] = Field(
        min_length=1, description="name of each option: the tasks that it brings into the plan"
    )

    @model_validator(mode="after")
    def _default_exists(self) -> Alternative:
        if self.default not in self.options:
            raise ValueError(f"'default' to be one of {sorted(self.options)}, not '{self.default}'")
        return self


class Check(Model):
    """Table ``[[check]]``: a recurring call, such as a glove look-over."""

    id: Identifier = Field(description="name of the recurring call")
    title: str = Field(default="", description="what is called for, in words")
    every: Minutes = Field(gt=0, le=LONGEST_MIN, description="minutes from one call to the next")
    lanes: tuple[Identifier, ...] = Field(min_length=1, description="lanes that are called")


class Plan(Model):
    """A whole sortie plan, as briefed."""

    sortie: Sortie = Field(description="the sortie as a whole: start, limit, reserve, wanted confidence")
    lanes: tuple[Lane, ...] = Field(alias="lane", min_length=1, description="the workers of the plan")
    suits: tuple[Suit, ...] = Field(default=(), alias="suit", description="the suits and what each has loaded")
    worksites: tuple[Worksite, ...] = Field(
        default=(), alias="worksite", description="where work is done, and the way back from there"
    )
    routes: tuple[Route, ...] = Field(default=(), alias="route", description="how long legs between worksites take")
    windows: tuple[Window, ...] = Field(default=(), alias="window", description="when there is daylight, a link or the like")
    tasks: tuple[Task, ...] = Field(alias="task", min_length=1, description="the work of the sortie")
    contingencies: tuple[Contingency, ...] = Field(
        default=(), alias="contingency", description="steps prepared for what may happen, inserted only if it does"
    )
    alternatives: tuple[Alternative, ...] = Field(
        default=(), alias="alternative", description="endings still open when the plan is briefed"
    )
    checks: tuple[Check, ...] = Field(
        default=(), alias="check", description="recurring calls, such as a glove look-over or a suit reading"
    )

    def lane_ids(self) -> tuple[str, ...]:
        """Lane names in file order."""
        return tuple(lane.id for lane in self.lanes)

    def crew_lane_ids(self) -> tuple[str, ...]:
        """Names of the crew lanes in file order."""
        return tuple(lane.id for lane in self.lanes if lane.kind == "crew")

    def all_tasks(self) -> dict[str, Task]:
        """Every task of the plan by name, contingency tasks included."""
        found = {task.id: task for task in self.tasks}
        for contingency in self.contingencies:
            found.update({task.id: task for task in contingency.tasks})
        return found
