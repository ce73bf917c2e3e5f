"""How a kind of event is entered: the fields of its form on the board, and its words on a log sheet."""

from __future__ import annotations

from typing import Literal, NamedTuple

# What a phrase of a log sheet is about: `T010`; `T010, T020`; a task, a lane or all; a contingency; an option of an
# alternative; `T090 to 20 min`; `T040 to EV2`.
About = Literal["task", "tasks", "scope", "contingency", "option", "task and length", "task and lane"]


class FormField(NamedTuple):
    """One field of an entry form.

    Parameters
    ----------
    name : str
        The field of the event; `subject` for one task, one lane or all.
    label : str
    source : str
        Where the choices come from: a key of `dashboard.screens.offers.choices_of`, or `minutes`, `number` or `text` for
        a field to write in. `many:` before it lets several be chosen (`many?:` also none), `@field` after it names the
        field on which the choices depend, and `?` at the end lets it stay empty.
    """

    name: str
    label: str
    source: str


class Form(NamedTuple):
    """What the entry form says of a kind. `changes_plan`: it is also offered where only the plan is to be changed."""

    title: str
    fields: tuple[FormField, ...] = ()
    changes_plan: bool = False


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
