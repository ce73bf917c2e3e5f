"""What every place that keeps rows does, the row itself, and the words in which a store is refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from typing import Literal, NamedTuple, Protocol

import sqlalchemy as sa
from sqlalchemy.exc import ArgumentError

from dashboard.core.base.problems import InputError, Problem

FORMAT = "1"
NOTHING_RECORDED = "Nothing of this was recorded."
MAYBE_RECORDED = (
    "It is not known whether this was recorded: the connection was lost while the database confirmed it. Look in the log "
    "before you enter it again; sent again with its id, it is recorded once."
)
DAMAGED_CURE = "Keep the file as evidence; go on with a new store and enter what is missing from the last export."

Signs = Sequence[tuple[str, str, str]]  # words of the database's complaint, what was found, what to do


class Row(NamedTuple):
    """One row of the store: an event, or what was not understood."""

    seq: int
    id: str | None  # None where the event was not understood
    received: str
    raw: str
    status: Literal["readable", "unread"]
    why: str | None


Judge = Callable[[list[Row]], list[Row]]


class StoreLost(InputError):
    """The place no longer holds what was acknowledged: deleted, replaced, or set back. `found` says which."""

    def __init__(self, where: str, found: str) -> None:
        self.found = found
        cure = "Put it back as it was; what is entered meanwhile is kept in memory only."
        super().__init__([Problem("event store", "the store that this server opened", found, cure, where)])


class Rows(Protocol):
    """A place that keeps rows in the order of `seq`. Used by one thread at a time, except for `watch`."""

    @property
    def where(self) -> str:
        """The address, without a password."""

    def open(self, wanted: Mapping[str, str]) -> str:
        """Make ready, and mark with what is wanted.

        Parameters
        ----------
        wanted : mapping
            `format`, and `sortie` where it must be the store of one.

        Returns
        -------
        str
            How a new store was made, in words; empty when there was one.

        Raises
        ------
        InputError
            When it cannot be opened, is damaged, is something else, or bears another mark.
        """

    def about(self) -> dict[str, str]:
        """What it is marked with."""

    def after(self, last: Row | None) -> list[Row]:
        """The rows after `last`; None: all.

        Raises
        ------
        StoreLost
            When it no longer holds `last`.
        InputError
            When it cannot be read.
        """

    def add(self, last: Row | None, judge: Judge) -> list[Row]:
        """Add what `judge` makes of the rows after `last`; nobody else adds meanwhile. On return the rows are on disk.

        Raises
        ------
        StoreLost
            When it no longer holds `last`, or not what was just added.
        InputError
            When nothing was added, or when that is not known.
        """

    def watch(self, heard: Callable[[int | None], None]) -> None:
        """Have `heard` called, on another thread, with the `seq` of each new row that the place tells of.

        None: what changed is not known; look. A place that tells nothing has to be asked.
        """

    def clock(self) -> datetime | None:
        """What its own clock says now; None: it has none but that of this computer.

        Raises
        ------
        InputError
            When it cannot be asked.
        """

    def close(self) -> None:
        """Let go of it."""


def checked_mark(where: str, about: Mapping[str, str], wanted: Mapping[str, str]) -> dict[str, str]:
    """The marks that are still to be set.

    Raises
    ------
    InputError
        When the store is of another format or another sortie.
    """
    if about.get("format", FORMAT) != FORMAT:
        raise refusal(where, f"a store of format {FORMAT}", f"one of format {about['format']}",
                      "Open it with the version that wrote it.")
    sortie = wanted.get("sortie")
    if sortie is not None and about.get("sortie", sortie) != sortie:
        raise refusal(where, f"the store of sortie '{sortie}'", f"the store of sortie '{about['sortie']}'",
                      "Choose the plan of that sortie, or another store.")
    return {key: value for key, value in wanted.items() if key not in about}


def cannot(where: str, wrong: Exception, signs: Signs, outcome: str = "") -> InputError:
    """What a complaint of the database means, and what became of what was to be recorded."""
    text = first_line(wrong)
    found, cure = next(
        ((f"{said} ({text})", do) for sign, said, do in signs if sign in text), (text, "Check the address of the store.")
    )
    return refusal(where, "a store of events", found, f"{outcome} {cure}".strip())


@contextmanager
def nothing_recorded() -> Iterator[None]:
    """While something is looked up before it is recorded: a store that cannot be read adds that nothing was recorded."""
    try:
        yield
    except InputError as wrong:
        told = [replace(problem, cure=f"{NOTHING_RECORDED} {problem.cure}") for problem in wrong.problems]
        raise InputError(told) from None


def refusal(where: str, expected: str, found: str, cure: str) -> InputError:
    """A store that cannot be used."""
    return InputError([Problem("event store", expected, found, cure, where)])


def first_line(wrong: Exception) -> str:
    """The first line of a complaint, without what the library puts around it."""
    return str(getattr(wrong, "orig", None) or wrong).strip().split("\n", 1)[0]


def without_password(url: str) -> str:
    """The address as it may be shown."""
    try:
        return sa.make_url(url).render_as_string(hide_password=True)
    except ArgumentError:
        return url
