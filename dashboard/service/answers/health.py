"""Whether the server can serve, and what needs attention: for `/health`, `/metrics` and `tetherline doctor`.

Rules of this file
------------------
1. An error says that the server cannot serve: there is no state of now, the store cannot be read or does not keep entries, or
   no new version is made. With an error the server is not ready.
2. A warning says that something needs attention: a feed that brings nothing, entries that are shown late, not tried or in
   quarantine, a key file that cannot be read, a clock that is off, a full disk. With warnings alone the server is ready.
3. Each is a problem that says what to do.
"""

from __future__ import annotations

import shutil
import time
from datetime import UTC, datetime
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import instant_text
from dashboard.log.store.backup import file_of
from dashboard.screens import ages
from dashboard.service.desk import Desk, Snapshot
from dashboard.service.observe.clocks import CLOCK_OFF_S, Offset, asked
from dashboard.service.observe.metrics import Gauged
from dashboard.service.session.session import KnownEvents
from dashboard.service.trial.sieve import is_in_quarantine
from dashboard.service.version import versions
from dashboard.words import duration, how_many

LONGEST_WITHOUT_VERSION_S = 30.0
LONGEST_LAG_S = 5.0
LEAST_FREE_MB = 500.0
FIRST = "there is none yet"
SET_CLOCK = "Set it, or have it follow a time server."


class Health(NamedTuple):
    """Health of a server.

    Parameters
    ----------
    problems : list of Problem
        Errors first, then warnings.
    details : dict
        Everything else that `/health` answers, as plain values.
    gauged : Gauged
        The values for the metrics.
    """

    problems: list[Problem]
    details: dict[str, Any]
    gauged: Gauged

    @property
    def is_ready(self) -> bool:
        """Whether the server can serve."""
        return self.gauged.ready

    def as_dict(self) -> dict[str, Any]:
        """The answer of `/health`, as plain values."""
        problems = [{**problem.as_dict(), "severity": problem.severity} for problem in self.problems]
        return {"live": True, "ready": self.is_ready, "problems": problems, **self.details}


def health_of(desk: Desk, key_trouble: str | None = None) -> Health:
    """Check the health of the server of a desk. This asks the store, so it may take a while.

    Parameters
    ----------
    desk
        The desk that is served.
    key_trouble
        Why the key file cannot be read; None: it can be read, or there is none.

    Returns
    -------
    Health
        At this moment.
    """
    snapshot, now_s = desk.newest(), time.monotonic()
    now = desk.session.clock.now()
    known, unreadable = _known(desk, now)
    clock, clock_problems = _store_clock(desk)
    feeds, offsets = desk.feeds.seen(), desk.viewers.offsets()
    quarantined = sum(is_in_quarantine(line.why) for line in known.unread)
    version_age_s = None if snapshot is None else now_s - snapshot.made_s
    lag_s = desk.lag_s
    disk = free_mb(desk.session.kept_in)
    problems = [
        *_of_the_state(snapshot, version_age_s, desk.period_s),
        *_of_the_lag(lag_s),
        *unreadable,
        *_of_the_store(desk),
        *_of_the_trials(desk.trial_trouble),
        *[Problem(f"feed {one.name}", f"news within {ages.FEED.stale_min:g} min", one.said, "Do what it says.", "", "caution")
          for one in feeds if not one.is_in_order],
        *_of_the_keys(key_trouble),
        *quarantine_problems(quarantined),
        *clock_problems,
        *_of_the_viewers(offsets),
        *disk_problems(disk),
    ]  # fmt: skip
    problems.sort(key=lambda problem: not problem.refuses)
    ready = not any(problem.refuses for problem in problems)
    details = {
        "now": instant_text(datetime.now(UTC)),
        "sortie": desk.plan.sortie.id,
        "mode": desk.session.clock.mode(),
        "store": {
            "events": len(known.events), "lag_s": round(lag_s, 3),
            "trouble": desk.session.store_trouble, "clock": None if clock is None else clock.as_dict(),
            "free_mb": None if disk is None else round(disk),
        },
        "cycle": {
            "version": desk.version, "age_s": None if version_age_s is None else round(version_age_s, 3),
            "trouble": FIRST if snapshot is None else snapshot.trouble,
        },
        "quarantined": quarantined,
        "unread": len(known.unread),
        "feeds": [one.as_dict() for one in feeds],
        "viewers": {"connected": len(desk.viewers), "clocks": [offset.as_dict() for offset in offsets]},
        "versions": versions(),
    }  # fmt: skip
    gauged = Gauged(
        viewers=len(desk.viewers),
        feed_ages_s={one.name: one.age_s for one in feeds},
        feeds_in_order={one.name: one.is_in_order for one in feeds},
        store_lag_s=lag_s,
        version_age_s=version_age_s,
        events=len(known.events),
        quarantined=quarantined,
        unread=len(known.unread),
        ready=ready,
    )
    return Health(problems, details, gauged)


def free_mb(store: str) -> float | None:
    """Free space on the disk of a store.

    Parameters
    ----------
    store
        Address of the store; empty: there is none.

    Returns
    -------
    float or None
        In MB; None: the store is not a file of this computer, or its disk cannot be read.
    """
    file = file_of(store) if store else None
    try:
        return None if file is None else shutil.disk_usage(file.resolve().parent).free / 1e6
    except OSError:
        return None


def disk_problems(free: float | None) -> list[Problem]:
    """Warn when the disk of a store is nearly full.

    Parameters
    ----------
    free
        Free space in MB; None: not known.

    Returns
    -------
    list of Problem
        One warning when less than `LEAST_FREE_MB` is free, else none.
    """
    if free is None or free >= LEAST_FREE_MB:
        return []
    cure = "Make room on the disk. When it is full, no event can be recorded."
    return [Problem("disk of the store", f"at least {LEAST_FREE_MB:g} MB free", f"{free:.0f} MB", cure, "", "caution")]


def quarantine_problems(count: int) -> list[Problem]:
    """Warn when there are entries in quarantine.

    Parameters
    ----------
    count
        How many there are.

    Returns
    -------
    list of Problem
        One warning when there are any, else none.
    """
    if not count:
        return []
    cure = "Look at them under Alerts on the board. Enter each again without the fault, and report the fault."
    return [Problem("quarantine", "no entry in it", how_many(count, "entry", "entries"), cure, "", "caution")]


def clock_problem(subject: str, offset: Offset, cure: str = SET_CLOCK) -> Problem:
    """The warning that a clock is off.

    Parameters
    ----------
    subject
        Which clock, in words.
    offset
        How far it is off.
    cure
        What to do, one or more sentences.

    Returns
    -------
    Problem
        A warning.
    """
    expected = f"a clock within {CLOCK_OFF_S:g} s of this computer's"
    return Problem(subject, expected, f"a clock that is {offset.in_words()}", cure, "", "caution")


def _known(desk: Desk, now: datetime) -> tuple[KnownEvents, list[Problem]]:
    """Content of the store, read now; or nothing, and why it cannot be read."""
    try:
        return desk.known_at(now), []
    except InputError as wrong:
        return KnownEvents([], []), wrong.problems


def _store_clock(desk: Desk) -> tuple[Offset | None, list[Problem]]:
    """How far the clock of the database is ahead; None: the store has no clock of its own, or cannot be asked."""
    try:
        offset = asked(desk.session.store_clock)
    except InputError:  # the problem of the store says what is wrong
        return None, []
    if offset is None or not offset.is_off:
        return offset, []
    return offset, [clock_problem("clock of the database", offset, f"One of the two clocks is wrong. {SET_CLOCK}")]


def _of_the_state(snapshot: Snapshot | None, age_s: float | None, period_s: float) -> list[Problem]:
    if snapshot is None or age_s is None:
        return [Problem("state", "a first state", "none yet", "Wait. If no state comes, look at the log of the server.")]
    if snapshot.trouble is not None:
        return [Problem("state", "a state of now", snapshot.trouble, "The events are safe. Look at the log of the server.")]
    longest_s = LONGEST_WITHOUT_VERSION_S + 2 * period_s
    if age_s > longest_s:
        found = f"none for {duration(age_s / 60)}"
        cure = "Restart the server, and keep its log. Acknowledged events are on disk."
        return [Problem("state", f"a new version at least every {longest_s:.0f} s", found, cure)]
    return []


def _of_the_lag(lag_s: float) -> list[Problem]:
    if lag_s <= LONGEST_LAG_S:
        return []
    found = f"entries have waited for {lag_s:.0f} s"
    cure = "They are recorded. If this goes on, see whether this computer is busy with something else, or a feed pours in events."
    return [Problem("state", f"entries shown within {LONGEST_LAG_S:.0f} s", found, cure, "", "caution")]


def _of_the_store(desk: Desk) -> list[Problem]:
    trouble = desk.session.store_trouble
    return [Problem("store", "a store that keeps entries", trouble, "Do what it says.")] if trouble else []


def _of_the_trials(trouble: str | None) -> list[Problem]:
    if trouble is None:
        return []
    cure = (
        "Entries are recorded and count all the same, but nothing says what they moved, and none can be kept out. Free memory "
        "and processes on this computer; the next entry tries again. If that does not help, restart the server."
    )
    return [Problem("trials", "a process in which each entry is tried", trouble, cure, "", "caution")]


def _of_the_keys(trouble: str | None) -> list[Problem]:
    return [Problem("keys", "a key file that can be read", trouble, "Do what it says.", "", "caution")] if trouble else []


def _of_the_viewers(offsets: list[Offset]) -> list[Problem]:
    wrong = [offset for offset in offsets if offset.is_off]
    if not wrong:
        return []
    worst = max(wrong, key=lambda offset: abs(offset.ahead_s))
    found = f"{how_many(len(wrong), 'board')} of {len(offsets)} with a clock that is off, the worst {worst.in_words()}"
    expected = f"clocks within {CLOCK_OFF_S:g} s of the server's"
    cure = (
        "The board shows the time of the server. Set the clocks of those computers, or have them follow a time server. "
        "If all are off, set the clock of the server."
    )
    return [Problem("clocks of browsers", expected, found, cure, "", "caution")]
