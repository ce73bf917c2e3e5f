"""Selects the runs of a library that count in scores and in learning, so that nothing is counted twice.

1. A rehearsal is left out. Up to its moment it repeats the recorded run; after it, it follows a trainee's decisions.
2. A copy is left out: a log whose events are all in another log. Ids of events and the times at which they were received
   are ignored. If two logs are equal, the first one counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from dashboard.words import how_many
from replay.library import BrokenRun, Named
from replay.recording import RecordedRun

PLURALS = {"rehearsal": "rehearsals", "copy": "copies"}
NOT_CONTENT = {"id", "sortie", "received", "seq", "entered_by", "figures"}


class LeftOut(NamedTuple):
    """A run that does not count: its name, whether it is a rehearsal or a copy, and of which run."""

    name: str
    what: Literal["rehearsal", "copy"]
    why: str


class IndependentRuns(NamedTuple):
    """The runs that count (with those that cannot be read), and the runs that are left out; each in the order given."""

    runs: list[Named]
    left_out: list[LeftOut]


def independent_runs(runs: Iterable[Named]) -> IndependentRuns:
    """Leave out the runs that would count twice.

    Parameters
    ----------
    runs : iterable of (str, RecordedRun or BrokenRun)
        With their names.

    Returns
    -------
    IndependentRuns
    """
    named = list(runs)
    left_out = {name: LeftOut(name, "rehearsal", f"of '{run.parent}'") for name, run in _read(named) if run.parent}
    contents = {name: _contents(run) for name, run in _read(named) if not run.parent}
    place = {name: number for number, name in enumerate(contents)}
    for name, own in contents.items():
        for other, more in contents.items():
            if own < more or (own == more and place[other] < place[name]):
                left_out[name] = LeftOut(name, "copy", f"{'the same log as' if own == more else 'part of the log of'} {other}")
                break
    return IndependentRuns(
        [(name, run) for name, run in named if name not in left_out],
        [left_out[name] for name, _ in named if name in left_out],
    )


def left_out_in_words(left_out: Iterable[LeftOut]) -> list[str]:
    """The runs that are left out, one line for rehearsals and one for copies: ``1 rehearsal left out: ...``.

    Parameters
    ----------
    left_out
        The runs that do not count.

    Returns
    -------
    list of str
        Empty when no run is left out.
    """
    listed: dict[str, list[str]] = {}
    for one in left_out:
        listed.setdefault(one.what, []).append(f"{one.name} ({one.why})")
    return [f"{how_many(len(names), what, PLURALS[what])} left out: {', '.join(names)}." for what, names in listed.items()]


def _read(named: Iterable[Named]) -> Iterable[tuple[str, RecordedRun]]:
    return ((name, run) for name, run in named if not isinstance(run, BrokenRun))


def _contents(run: RecordedRun) -> frozenset[str]:
    """The content of each event of the log, with the name of the sortie."""
    sortie = run.plan.sortie.id
    return frozenset(
        f"{sortie} {event.model_dump_json(exclude=NOT_CONTENT, exclude_none=True)}" for event in run.events
    )
