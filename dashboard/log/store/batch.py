"""Judges what comes in: recorded, already recorded, a conflict, or not understood."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent
from dashboard.log.eventtext import (
    difference,
    event_of_text,
    same_content,
    table_of_text,
    text_of_event,
    text_of_table,
)
from dashboard.log.store.known import StoreContent
from dashboard.log.store.rows import Row


@dataclass(frozen=True)
class Outcome:
    """What became of one item that was handed to the store.

    Parameters
    ----------
    status
        ``recorded``, ``already recorded`` (the same event came before), ``conflict`` (another event has this id),
        ``unread`` (not understood), ``quarantined`` (understood, but the state cannot be computed with it), or
        ``in memory only`` (it counts, but the store was lost and it is not on disk). Conflicts, unread and quarantined
        items are kept verbatim among the unread.
    id
        The id that the item gives; None when it gives none.
    seq
        Place of its row in the store.
    why
        The reason, in words; None for what is recorded or already recorded.
    """

    status: Literal["recorded", "already recorded", "conflict", "unread", "quarantined", "in memory only"]
    id: str | None
    seq: int
    why: str | None = None


@dataclass(frozen=True)
class Quarantined:
    """An item that is kept verbatim among the unread, for a reason that only the caller knows."""

    item: str | Mapping[str, Any]
    why: str


class Given(NamedTuple):
    """An item: its text, when it came in, and why it goes straight to the unread (None: it is judged)."""

    text: str
    received: str
    why: str | None = None


class Batch:
    """Items of one transaction, judged against what the store holds and against each other.

    Parameters
    ----------
    known
        What the store holds.
    sortie
        The sortie that the store belongs to; None: events of any sortie are accepted.
    also
        Event by id, for events that are kept elsewhere and whose ids are taken; None: there are none.

    Attributes
    ----------
    rows
        Rows to add to the store.
    outcomes
        Outcome of each item, in the order of the items.
    """

    def __init__(self, known: StoreContent, sortie: str | None, also: Mapping[str, Event] | None = None) -> None:
        self.rows: list[Row] = []
        self.outcomes: list[Outcome] = []
        self._known = known
        self._sortie = sortie
        self._also = also or {}
        self._new: dict[str, Event] = {}
        self._new_unread: dict[tuple[str, str], int] = {}

    def put(self, given: Given) -> None:
        """Judge one item, or keep it in quarantine. The same quarantined item is kept once for the same reason.

        Parameters
        ----------
        given
            The item; one with a reason goes into quarantine.
        """
        if given.why is None:
            self.outcomes.append(self._judged(given.text, given.received))
        else:
            seq = self._keep(given.text, given.received, given.why, repeatable=False)
            self.outcomes.append(Outcome("quarantined", _claimed_id(given.text), seq, given.why))

    def _judged(self, text: str, received: str) -> Outcome:
        try:
            event = event_of_text(text)
            if self._sortie is not None and event.sortie not in (None, self._sortie):
                raise UnreadableEvent(f"expected an event of sortie '{self._sortie}'; found one of '{event.sortie}'")
        except UnreadableEvent as wrong:
            claimed = _claimed_id(text)
            seq = self._keep(text, received, str(wrong), repeatable=claimed is None)
            return Outcome("unread", claimed, seq, str(wrong))
        first = self._known.by_id.get(event.id) or self._also.get(event.id) or self._new.get(event.id)
        if first is None:
            seq = self._add(event.id, received, text, "readable", None)
            self._new[event.id] = event.model_copy(update={"seq": seq})
            return Outcome("recorded", event.id, seq)
        if same_content(first, event):
            return Outcome("already recorded", event.id, first.seq or 0)
        why = (
            f"expected one event with the id '{event.id}'; found a second one that differs in "
            f"{difference(first, event)} (the first, seq {first.seq}, stands)"
        )
        return Outcome("conflict", event.id, self._keep(text, received, why, repeatable=False), why)

    def _keep(self, text: str, received: str, why: str, repeatable: bool) -> int:
        """Keep what is not understood, and return its `seq`. The same item sent again with its id is kept once."""
        key = (text, why)
        seq = None if repeatable else self._known.unread_seq.get(key) or self._new_unread.get(key)
        if seq is None:
            seq = self._new_unread[key] = self._add(None, received, text, "unread", why)
        return seq

    def _add(
        self, id_: str | None, received: str, text: str, status: Literal["readable", "unread"], why: str | None
    ) -> int:
        seq = self._known.last_seq + len(self.rows) + 1
        self.rows.append(Row(seq, id_, received, text, status, why))
        return seq


def given(item: str | Mapping[str, Any] | Quarantined | Event, received: str) -> Given:
    """Prepare an item for judging.

    Parameters
    ----------
    item
        JSON text, a table, an event, or any of the first two in quarantine.
    received
        When it came in, as text.

    Returns
    -------
    Given
        Its text is the JSON text verbatim, or the table or event as a line of JSON.
    """
    if isinstance(item, Quarantined):
        return Given(_text(item.item), received, item.why)
    return Given(_text(item), received)


def _text(item: str | Mapping[str, Any] | Event) -> str:
    """The text that is kept: JSON text verbatim, a table or an event as a line of JSON."""
    if isinstance(item, str):
        return item.encode("utf-8", "backslashreplace").decode("utf-8")
    return text_of_table(item) if isinstance(item, Mapping) else text_of_event(item)


def _claimed_id(text: str) -> str | None:
    try:
        claimed = table_of_text(text).get("id")
    except UnreadableEvent:
        return None
    return claimed if isinstance(claimed, str) else None
