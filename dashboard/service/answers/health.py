"""Whether the server can serve, and what somebody should look after: for `/health`, `/metrics` and `tetherline doctor`.

Rules of this file
------------------
1. An error says that the server cannot serve: there is no state of now, the store cannot be read or does not keep what is
   entered, no new version is made. With one it is not ready.
2. A warning says that somebody should look: a feed that brings nothing, entries in quarantine, a clock that is off, a full
   disk. With warnings alone it is ready.
3. Each is a problem with what to do.
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
from dashboard.service.session.session import Known
from dashboard.service.trial.sieve import is_in_quarantine
from dashboard.service.version import versions
from dashboard.words import duration, how_many

LONGEST_WITHOUT_VERSION_S = 30.0
LEAST_FREE_MB = 500.0
FIRST = "there is none yet"
SET_CLOCK = "Set it, or have it follow a time server."


class Health(NamedTuple):
    """How a server is.

    Parameters
    ----------
    problems : list of Problem
        Errors first.
    told : dict
        Everything else, as plain values.
    gauged : Gauged
        The same for the metrics.
    """

    problems: list[Problem]
    told: dict[str, Any]
    gauged: Gauged

    @property
    def is_ready(self) -> bool:
        """Whether the server can serve."""
        return self.gauged.ready

    def as_dict(self) -> dict[str, Any]:
        """As `/health` answers."""
        problems = [{**problem.as_dict(), "severity": problem.severity} for problem in self.problems]
        return {"live": True, "ready": self.is_ready, "problems": problems, **self.told}


def health_of(desk: Desk) -> Health:
    """How the server of a desk is now. Asks the store, so it may take a while."""
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
        *unreadable,
        *_of_the_store(desk),
        *[Problem(f"feed {one.name}", f"news within {ages.FEED.stale_min:g} min", one.said, "See what it says.", "", "warning")
          for one in feeds if not one.is_in_order],
        *quarantine_problems(quarantined),
        *clock_problems,
        *_of_the_viewers(offsets),
        *disk_problems(disk),
    ]  # fmt: skip
    problems.sort(key=lambda problem: not problem.refuses)
    ready = not any(problem.refuses for problem in problems)
    told = {
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
    return Health(problems, told, gauged)


def free_mb(store: str) -> float | None:
    """What is free on the disk of a store, by its address; None: it is no file of this computer."""
    file = file_of(store) if store else None
    try:
        return None if file is None else shutil.disk_usage(file.resolve().parent).free / 1e6
    except OSError:
        return None


def disk_problems(free: float | None) -> list[Problem]:
    """Whether the disk of a store is nearly full."""
    if free is None or free >= LEAST_FREE_MB:
        return []
    cure = "Make room: when the disk is full, nothing more can be recorded."
    return [Problem("disk of the store", f"at least {LEAST_FREE_MB:g} MB free", f"{free:.0f} MB", cure, "", "warning")]


def quarantine_problems(count: int) -> list[Problem]:
    """Whether there are entries in quarantine."""
    if not count:
        return []
    cure = "Look at them under Problems on the board; enter what is right anew, and report what was wrong."
    return [Problem("quarantine", "no entry in it", how_many(count, "entry", "entries"), cure, "", "warning")]


def clock_problem(subject: str, offset: Offset, cure: str = SET_CLOCK) -> Problem:
    """A clock that is off."""
    expected = f"a clock within {CLOCK_OFF_S:g} s of this computer's"
    return Problem(subject, expected, f"one that is {offset.in_words()}", cure, "", "warning")


def _known(desk: Desk, now: datetime) -> tuple[Known, list[Problem]]:
    """What the store holds, read now, and why it cannot be read."""
    try:
        return desk.known_at(now), []
    except InputError as wrong:
        return Known([], []), wrong.problems


def _store_clock(desk: Desk) -> tuple[Offset | None, list[Problem]]:
    """How far the clock of the database is ahead; None: it has none of its own, or cannot be asked."""
    try:
        offset = asked(desk.session.store_clock)
    except InputError:  # what is wrong with it is said of the store
        return None, []
    if offset is None or not offset.is_off:
        return offset, []
    return offset, [clock_problem("clock of the database", offset, f"One of both is wrong: {SET_CLOCK.lower()}")]


def _of_the_state(snapshot: Snapshot | None, age_s: float | None, period_s: float) -> list[Problem]:
    if snapshot is None or age_s is None:
        return [Problem("state", "a first state", "none yet", "Wait; if it stays so, look at the log of the server.")]
    if snapshot.trouble is not None:
        return [Problem("state", "a state of now", snapshot.trouble, "The events are safe. Look at the log of the server.")]
    longest_s = LONGEST_WITHOUT_VERSION_S + 2 * period_s
    if age_s > longest_s:
        found = f"none for {duration(age_s / 60)}"
        cure = "Start the server anew; what was acknowledged is on disk. Keep its log."
        return [Problem("state", f"a new version at least every {longest_s:.0f} s", found, cure)]
    return []


def _of_the_store(desk: Desk) -> list[Problem]:
    trouble = desk.session.store_trouble
    return [Problem("store", "one that keeps what is entered", trouble, "See what it says.")] if trouble else []


def _of_the_viewers(offsets: list[Offset]) -> list[Problem]:
    wrong = [offset for offset in offsets if offset.is_off]
    if not wrong:
        return []
    worst = max(wrong, key=lambda offset: abs(offset.ahead_s))
    found = f"{how_many(len(wrong), 'board')} of {len(offsets)} with another, the worst {worst.in_words()}"
    expected = f"clocks within {CLOCK_OFF_S:g} s of the server's"
    cure = f"The board itself shows the server's time. On those computers: {SET_CLOCK.lower()} If all are off, set the server's."
    return [Problem("clocks of browsers", expected, found, cure, "", "warning")]
