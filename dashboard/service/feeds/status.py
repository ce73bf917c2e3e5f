"""State of a feed: whether it is connected, how long ago it brought something new, and what to do, in words."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Literal, NamedTuple

from dashboard.core.base.times import instant_text
from dashboard.screens import ages
from dashboard.words import age, how_many

Standing = Literal["fresh", "late", "stale", "lost", "waits", "ended"]


class FeedSeen(NamedTuple):
    """A feed at one instant.

    Parameters
    ----------
    name : str
        Name of the feed.
    standing : str
        `lost`: no connection, or no file; `waits`: its entries cannot be kept; `ended`: nothing more can come. Otherwise
        `fresh`, `late` or `stale` by the age of its last news.
    age_s : float
        Seconds since it last brought something new; if it never did, since it is followed.
    heard_at : datetime or None
        When it last brought something new (UTC); None: not yet.
    entries : int
        How many entries it brought since it is followed.
    unread : int
        How many of them were kept unread.
    said : str
        The state in words, with what to do.
    """

    name: str
    standing: Standing
    age_s: float
    heard_at: datetime | None
    entries: int
    unread: int
    said: str

    @property
    def is_in_order(self) -> bool:
        """Whether nobody has to look after it."""
        return self.standing in ("fresh", "late")

    def as_dict(self) -> dict[str, object]:
        """Its fields in the answer of `/health`, with the ages from which a feed is late and stale."""
        return {
            "name": self.name,
            "standing": self.standing,
            "age_s": round(self.age_s, 1),
            "late_after_s": ages.FEED.late_min * 60,
            "stale_after_s": ages.FEED.stale_min * 60,
            "heard_at": None if self.heard_at is None else instant_text(self.heard_at),
            "entries": self.entries,
            "unread": self.unread,
            "said": self.said,
        }


class Status:
    """Keeps the state of a feed. Safe to use from several threads.

    Parameters
    ----------
    name : str
        Name of the feed.
    cure : str
        What to check when it brings nothing, a sentence.
    now : callable
        Gives the time of day (UTC).
    """

    def __init__(self, name: str, cure: str, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self.name = name
        self._cure, self._now = cure, now
        self._lock = threading.Lock()
        self._began_at = now()
        self._heard_at: datetime | None = None
        self._entries = self._unread = 0
        self._trouble: tuple[Standing, str, datetime] | None = None

    def heard(self, at: datetime | None = None) -> None:
        """Note that the feed brought something new.

        Parameters
        ----------
        at
            When (UTC); a time ahead of now counts as now. None: now.
        """
        with self._lock:
            at = min(at or self._now(), self._now())
            self._heard_at = at if self._heard_at is None else max(at, self._heard_at)

    def counted(self, entries: int, unread: int) -> None:
        """Add to the counts of entries.

        Parameters
        ----------
        entries
            How many entries were handed over.
        unread
            How many of them were kept unread.
        """
        with self._lock:
            self._entries += entries
            self._unread += unread

    def in_trouble(self, standing: Literal["lost", "waits", "ended"], why: str) -> bool:
        """Note that the feed is in trouble.

        Parameters
        ----------
        standing
            As in `FeedSeen`.
        why
            The reason and what happens next, one or more sentences; the first needs no capital letter.

        Returns
        -------
        bool
            Whether the feed was not yet in this kind of trouble.
        """
        with self._lock:
            before, self._trouble = self._trouble, (standing, why, self._now())
            if before is None or before[0] != standing:
                return True
            self._trouble = (standing, why, before[2])
            return False

    def in_order(self) -> bool:
        """Note that the feed works. Returns whether it was in trouble before."""
        with self._lock:
            was, self._trouble = self._trouble, None
            return was is not None

    def seen(self) -> FeedSeen:
        """The state of the feed now."""
        with self._lock:
            now = self._now()
            age_s = max(0.0, (now - (self._heard_at or self._began_at)).total_seconds())
            news = age(None if self._heard_at is None else age_s)
            if self._trouble is not None:
                standing, why, since = self._trouble
                said = f"{_WORDS[standing]} for {_length((now - since).total_seconds())}: {why} Its last news: {news}."
            else:
                standing = ages.FEED.judge(age_s / 60)
                said = f"{standing}, last news: {news}. {how_many(self._entries, 'entry', 'entries')}, {self._unread} unread."
                if standing == "stale":
                    never = "" if self._heard_at else f" It has been followed for {_length(age_s)}."
                    said = f"stale, last news: {news}.{never} {self._cure}"
            return FeedSeen(
                self.name, standing, age_s, self._heard_at, self._entries, self._unread, f"Feed {self.name} is {said}"
            )


_WORDS: dict[str, str] = {"lost": "lost", "waits": "waiting", "ended": "at its end"}


def _length(seconds: float) -> str:
    return age(seconds).removesuffix(" ago")
