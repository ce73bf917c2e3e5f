"""The row of a store, what every place that keeps rows does, and the errors for a store that cannot be used."""

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
    "before you enter it again. An event that is sent again with its id is recorded only once."
)
DAMAGED_CURE = "Keep the damaged file as evidence. Go on with a new store, and enter the missing events from the last export."

Signs = Sequence[tuple[str, str, str]]  # words in a complaint of the database, what was found, what to do


class Row(NamedTuple):
    """One row of the store: an event, or something that was not understood."""

    seq: int
    id: str | None  # None where the event was not understood
    received: str
    raw: str
    status: Literal["readable", "unread"]
    why: str | None


Judge = Callable[[list[Row]], list[Row]]  # gets the rows that others added, gives the rows to add


class StoreLost(InputError):
    """The place no longer holds what was acknowledged: it was deleted, replaced, or set back.

    Parameters
    ----------
    where
        The address, without a password.
    found
        What was found there, in words.
    """

    def __init__(self, where: str, found: str) -> None:
        self.found = found
        cure = "Put the store back as it was. Until then, what is entered is kept in memory only."
        super().__init__([Problem("event store", "the store that this server opened", found, cure, where)])


class Rows(Protocol):
    """A place that keeps rows in the order of `seq`. One thread at a time uses it, except for `watch`.

    Attributes
    ----------
    where
        The address, without a password.
    """

    where: str

    def open(self, wanted: Mapping[str, str]) -> str:
        """Make the place ready, and mark it with what is wanted. A new store is made if there is none.

        Parameters
        ----------
        wanted
            `format`, and `sortie` when the store must belong to one.

        Returns
        -------
        str
            How a new store was made, in words; empty when there was a store.

        Raises
        ------
        InputError
            When the place cannot be opened, is damaged, is something else, or bears another mark.
        """

    def about(self) -> dict[str, str]:
        """Read the marks of the store."""

    def after(self, last: Row | None) -> list[Row]:
        """Read the rows after a row.

        Parameters
        ----------
        last
            The last known row; None: all rows are read.

        Returns
        -------
        list of Row
            In the order of `seq`.

        Raises
        ------
        StoreLost
            When the store no longer holds `last`.
        InputError
            When the store cannot be read.
        """

    def add(self, last: Row | None, judge: Judge) -> list[Row]:
        """Add rows in one transaction, while nobody else can add. On return they are on disk, if the store is not in memory.

        Parameters
        ----------
        last
            The last known row; None: no row is known.
        judge
            Gets the rows after `last`, and returns the rows to add.

        Returns
        -------
        list of Row
            The rows that were added.

        Raises
        ------
        StoreLost
            When the store no longer holds `last`, or does not hold what was just added.
        InputError
            When nothing was added, or when it is not known whether the rows were added.
        """

    def watch(self, heard: Callable[[int | None], None]) -> None:
        """Have a function called when the place tells of new rows. Places other than PostgreSQL never tell, and must be asked.

        Parameters
        ----------
        heard
            Called on another thread with the `seq` of a new row, or with None when something unknown changed.
        """

    def clock(self) -> datetime | None:
        """Ask the clock of the place. None: it has no clock but that of this computer.

        Raises
        ------
        InputError
            When the place cannot be asked.
        """

    def close(self) -> None:
        """Release the place."""


def checked_mark(where: str, about: Mapping[str, str], wanted: Mapping[str, str]) -> dict[str, str]:
    """Check the marks of a store against what is wanted.

    Parameters
    ----------
    where
        The address, without a password.
    about
        The marks that the store has.
    wanted
        The marks that it should have.

    Returns
    -------
    dict
        The marks that still have to be set.

    Raises
    ------
    InputError
        When the store has another format or belongs to another sortie.
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
    """Make the error for a complaint of the database.

    Parameters
    ----------
    where
        The address, without a password.
    wrong
        The exception of the database.
    signs
        What known complaints mean.
    outcome
        What became of the entries that were to be recorded, as sentences; empty when there were none.

    Returns
    -------
    InputError
        To be raised by the caller.
    """
    text = first_line(wrong)
    found, cure = next(
        ((f"{said} ({text})", do) for sign, said, do in signs if sign in text), (text, "Check the address of the store.")
    )
    return refusal(where, "a store of events", found, f"{outcome} {cure}".strip())


@contextmanager
def nothing_recorded() -> Iterator[None]:
    """Guard what is read before something is recorded: its errors then also say that nothing was recorded.

    Raises
    ------
    InputError
        As raised inside, with that sentence added.
    """
    try:
        yield
    except InputError as wrong:
        told = [replace(problem, cure=f"{NOTHING_RECORDED} {problem.cure}") for problem in wrong.problems]
        raise InputError(told) from None


def refusal(where: str, expected: str, found: str, cure: str) -> InputError:
    """Make the error for a store that cannot be used.

    Parameters
    ----------
    where
        The address, without a password.
    expected, found
        In words.
    cure
        What to do, as a sentence.

    Returns
    -------
    InputError
        With one problem, to be raised by the caller.
    """
    return InputError([Problem("event store", expected, found, cure, where)])


def first_line(wrong: Exception) -> str:
    """Give the first line of a complaint of the database.

    Parameters
    ----------
    wrong
        The exception of the database or of SQLAlchemy.

    Returns
    -------
    str
        Without the text that SQLAlchemy adds.
    """
    return str(getattr(wrong, "orig", None) or wrong).strip().split("\n", 1)[0]


def without_password(url: str) -> str:
    """Write an address as it may be shown.

    Parameters
    ----------
    url
        The address of a store.

    Returns
    -------
    str
        With ``***`` in place of a password. A text that is not an address is returned as it is.
    """
    try:
        return sa.make_url(url).render_as_string(hide_password=True)
    except ArgumentError:
        return url
