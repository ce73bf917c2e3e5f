"""A change of the plan of record, in one shape: what choices, what-if, decisions and their reversal all carry.

It is a value. It says what would change, not whether that is allowed (`deferral.rules`), still open (`deferral.still_open`)
or worth it (`deferral.figures`). Its parts are single acts: one task deferred, one option taken.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from dashboard.core.base.minutes import length
from dashboard.core.plan.model import LONGEST_MIN, MOST_NAMES, Identifier, Minutes
from dashboard.core.plan.model import Names as PlanNames

PartKind = Literal["defer", "trim", "extend", "break_off", "move", "choose"]
PART_WORDS: Mapping[PartKind, tuple[str, str]] = {
    "defer": ("defer", ""), "trim": ("trim", "to"), "extend": ("let run", "to"), "break_off": ("break off", ""),
    "move": ("hand", "to"), "choose": ("take", "for"),
}
Names = Annotated[PlanNames, AfterValidator(lambda names: tuple(dict.fromkeys(names)))]
Lengths = Annotated[dict[Identifier, Annotated[Minutes, Field(ge=0, le=LONGEST_MIN)]], Field(max_length=MOST_NAMES)]


class Part(NamedTuple):
    """One act of a change. `name` is a task, or an alternative; `to` the new length in minutes, the lane, or the option."""

    kind: PartKind
    name: str
    to: float | str | None = None

    def in_words(self, named: Callable[[str], str] = str) -> str:
        """The act in words: ``defer T390``, ``trim T400 to 6 min``, ``take 'outside' for old-tray``.

        Parameters
        ----------
        named
            Task or alternative -> how it is named; as it is when left out.

        Returns
        -------
        str
        """
        before, between = PART_WORDS[self.kind]
        to = f"'{self.to}'" if self.kind == "choose" else self.to if isinstance(self.to, str) else length(self.to or 0.0)
        words = (before, to, between, named(self.name)) if self.kind == "choose" else (before, named(self.name), between, to)
        return " ".join(str(word) for word in (words if between else words[:2]))


class Change(BaseModel):
    """What changes in the plan of record."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    defer: Names = Field(default=(), description="tasks taken out of this sortie")
    trim: Lengths = Field(default={}, description="task: new whole length, minutes, shorter than planned")
    extend: Lengths = Field(default={}, description="task: new whole length, minutes, longer than planned")
    break_off: Names = Field(default=(), description="work in hand that ends now")
    move: dict[Identifier, Identifier] = Field(
        default={}, max_length=MOST_NAMES, description="task: lane that it is handed to"
    )
    choose: dict[Identifier, str] = Field(
        default={}, max_length=MOST_NAMES, description="alternative: option that is taken"
    )
    order: Names = Field(default=(), description="what remains in a new order; empty: the order is kept")

    @property
    def is_empty(self) -> bool:
        """Whether nothing changes."""
        return not (self.parts() or self.order)

    def given_up(self) -> tuple[str, ...]:
        """Tasks that lose value: deferred, trimmed or broken off."""
        return (*self.defer, *self.trim, *self.break_off)

    def tasks(self) -> tuple[str, ...]:
        """Every task that the change names, each once."""
        return tuple(dict.fromkeys((*self.given_up(), *self.extend, *self.move, *self.order)))

    def lengths(self) -> dict[str, float]:
        """Task -> new whole length, minutes, trimmed and extended alike."""
        return {**self.trim, **self.extend}

    def parts(self) -> list[Part]:
        """Its single acts, in the order in which texts list them. A new order of the tasks is not among them."""
        return [
            *(Part("defer", task) for task in self.defer),
            *(Part("trim", task, minutes) for task, minutes in self.trim.items()),
            *(Part("extend", task, minutes) for task, minutes in self.extend.items()),
            *(Part("break_off", task) for task in self.break_off),
            *(Part("move", task, lane) for task, lane in self.move.items()),
            *(Part("choose", alternative, option) for alternative, option in self.choose.items()),
        ]

    def count(self) -> int:
        """Number of single acts."""
        return len(self.parts())

    def but(self, **fields: Any) -> Change:
        """The change with some of its fields replaced.

        Parameters
        ----------
        **fields
            New values by name of the field. They are not checked: each must have the type that the field has.

        Returns
        -------
        Change
            A copy.
        """
        return self.model_copy(update=fields)

    def and_defer(self, tasks: Iterable[str]) -> Change:
        """The change with further tasks deferred.

        Parameters
        ----------
        tasks
            Ids. They come behind those that it defers already; each is deferred once.

        Returns
        -------
        Change
            The change itself when it defers all of them already.
        """
        more = tuple(dict.fromkeys((*self.defer, *tasks)))
        return self if more == self.defer else self.model_copy(update={"defer": more})

    def without_tasks(self, tasks: Collection[str]) -> Change:
        """The change without its acts on some tasks. Its options and its order stay.

        Parameters
        ----------
        tasks
            Ids of the tasks that are no longer deferred, trimmed, extended, broken off or handed over.

        Returns
        -------
        Change
            A copy.
        """
        def rest(old: Mapping[str, Any]) -> dict[str, Any]:
            return {task: value for task, value in old.items() if task not in tasks}

        return self.model_copy(update={
            "defer": tuple(t for t in self.defer if t not in tasks), "trim": rest(self.trim), "extend": rest(self.extend),
            "break_off": tuple(t for t in self.break_off if t not in tasks), "move": rest(self.move),
        })  # fmt: skip

    def events(self, text: str, chosen: Any = None) -> list[dict[str, Any]]:
        """The events that record the change, without id, time and sender.

        The decision comes first. It carries what is deferred and trimmed; the rest are events of their own, options first.

        Parameters
        ----------
        text
            What was decided, in words.
        chosen
            What the decision keeps as chosen, ready for JSON; None: the change itself.

        Returns
        -------
        list of dict
            The fields of each event. A new order has no event: only `chosen` can keep it.
        """
        decision: dict[str, Any] = {
            "kind": "decision", "text": text, "chosen": self.model_dump(mode="json") if chosen is None else chosen,
        }  # fmt: skip
        if self.defer:
            decision["defer"] = list(self.defer)
        if self.trim:
            decision["trim"] = dict(self.trim)
        rest = sorted((p for p in self.parts() if p.kind not in ("defer", "trim")), key=lambda p: p.kind != "choose")
        return [decision, *map(_event, rest)]


def change_in(chosen: object) -> Change:
    """The change that a decision says was chosen; the empty change when it says none that can be read.

    Figures and words that stand beside the change are passed over.

    Parameters
    ----------
    chosen
        The field `chosen` of a decision, as it came: normally a mapping with the fields of a `Change`.

    Returns
    -------
    Change
        Empty as a whole when one of its fields cannot be read.
    """
    if not isinstance(chosen, Mapping):
        return Change()
    try:
        return Change.model_validate({name: chosen[name] for name in Change.model_fields if chosen.get(name)})
    except ValidationError:
        return Change()


def _event(part: Part) -> dict[str, Any]:
    match part.kind:
        case "extend":
            return {"kind": "extend", "task": part.name, "duration": part.to}
        case "move":
            return {"kind": "move", "task": part.name, "lane": part.to}
        case "choose":
            return {"kind": "choose", "alternative": part.name, "option": part.to}
    return {"kind": part.kind, "task": part.name}
