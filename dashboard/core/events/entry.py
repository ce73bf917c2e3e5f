"""How a kind of event is entered: the fields of its form on the board, and its words on a log sheet."""

from __future__ import annotations

from typing import Literal, NamedTuple

# What a phrase of a log sheet is about: `T010`; `T010, T020`; a task, a lane or all; a contingency; an option of an
# alternative; `T090 to 20 min`; `T040 to EV2`.
About = Literal["task", "tasks", "scope", "contingency", "option", "task and length", "task and lane"]


class Least(NamedTuple):
    """The least value of a field: the source that gives it, the field on which it depends, and what that value is."""

    source: str
    on: str
    said: str


class FormField(NamedTuple):
    """One field of an entry form. A source is a key of `dashboard.screens.offers.choices_of`.

    Parameters
    ----------
    name : str
        The field of the event; `subject` for one task, one lane or all.
    label : str
    source : str
        Where the choices come from; `minutes`, `number` or `text` for a field to write in. `many:` before it lets several
        be chosen (`many?:` also none), `@field` after it names the field on which the choices depend, and `?` at the end
        lets it stay empty.
    refused : str or None
        The source of the values that nobody may record here, with why. None: every value may be recorded.
    above : float or None
        A number that the value must be above.
    least : Least or None
        The least value at the moment.
    """

    name: str
    label: str
    source: str
    refused: str | None = None
    above: float | None = None
    least: Least | None = None


class AnyOf(NamedTuple):
    """Fields of which at least one must be filled in, and the words where none is."""

    fields: tuple[str, ...]
    words: str


class Question(NamedTuple):
    """A question before the event is recorded: its source, and the field whose value decides (None: it is always asked)."""

    source: str
    field: str | None = None


class Form(NamedTuple):
    """What the entry form says of a kind.

    Parameters
    ----------
    title : str
    fields : tuple of FormField
    changes_plan : bool
        It is also offered where only the plan is to be changed.
    any_of : AnyOf or None
    asked : Question or None
    by_utc : bool
        Its time is entered by UTC, not by PET.
    """

    title: str
    fields: tuple[FormField, ...] = ()
    changes_plan: bool = False
    any_of: AnyOf | None = None
    asked: Question | None = None
    by_utc: bool = False


class Spoken(NamedTuple):
    """The words of a kind on a log sheet.

    Parameters
    ----------
    verbs : tuple of str
        Words that say it happened, before or behind what it is about.
    about : About
    change : str
        Regular expression: a row with it speaks of a change of the plan, and is never taken for a decision in words.
        Empty: no word does.
    """

    verbs: tuple[str, ...]
    about: About
    change: str = ""
