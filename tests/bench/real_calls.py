"""When the room of a real sortie would have been told and asked, beside what it did: a part of `python -m tests.bench sorties`.

The call is judged at every entry and every `STEP_MIN` minutes, each one on the call before it, as the server does, on the log as
it then was. The real room did not follow it. Limits, shortest lengths and priorities of these plans are ours (see the plans),
so what is asked shows how the rules act on a real sortie; it is no judgement of the room.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import NamedTuple

from dashboard.core.base.minutes import clock
from dashboard.core.base.times import minutes_between
from dashboard.core.deferral.advise import call_now
from dashboard.core.deferral.call import Call
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from replay.moments import truth_of
from replay.recording import RecordedRun, load_run

STEP_MIN = 10.0
DRAWS = 1000
TOLD_BEFORE_MIN = 30.0
WITHIN_MIN = 15.0


class Asked(NamedTuple):
    """What was asked at one instant: PET minutes, what is for now in words, and the minutes of work that it gives up."""

    pet_min: float
    what: str
    minutes: float


class Told(NamedTuple):
    """One sortie: when the room was first told, each thing that it was asked, and its own first cut.

    Parameters
    ----------
    first_expect_pet_min : float or None
        First call of either kind; None: there was none before the real cut.
    asked : list of Asked
        Each part for now, when it was first named; until the real cut.
    cut : Asked
        What the real room gave up first.
    """

    first_expect_pet_min: float | None
    asked: list[Asked]
    cut: Asked

    @property
    def told_in_time(self) -> bool:
        """Whether the room was told early enough before the real cut."""
        return self.first_expect_pet_min is not None and self.first_expect_pet_min <= self.cut.pet_min - TOLD_BEFORE_MIN

    @property
    def as_much(self) -> bool:
        """Whether all that was asked for, together, is about as much as the room gave up."""
        return abs(sum(one.minutes for one in self.asked) - self.cut.minutes) <= WITHIN_MIN


def minutes_given_up(record: Record, change: Change) -> float:
    """Minutes of work at likely lengths that a change gives up; joint work counts once, and work that is done does not."""
    likely = {task_id: run.task.likely_min for task_id, run in record.runs.items()}
    trimmed = sum(max(0.0, likely[task_id] - minutes) for task_id, minutes in change.trim.items())
    broken_off = sum(max(0.0, likely[t] - record.runs[t].worked_min(record.pet_min)) for t in change.break_off)
    return trimmed + broken_off + sum(likely[task_id] for task_id in change.defer)


def in_words(change: Change) -> str:
    """What a change gives up, by task."""
    return ", ".join([*change.defer, *change.break_off, *(f"{t} to {m:g} min" for t, m in change.trim.items())])


def cuts(run: RecordedRun) -> list[Asked]:
    """Every entry of the room that defers or trims, in order."""
    zero = truth_of(run).pet_zero
    found = []
    for event in sorted(run.events, key=lambda one: one.at):
        change = {
            "defer": lambda e: Change(defer=tuple(e.tasks)), "trim": lambda e: Change(trim={e.task: e.duration}),
        }.get(event.kind)
        if change is not None:
            given_up = change(event)
            record = reconcile(run.plan, run.known_at(event.at), event.at)
            found.append(Asked(minutes_between(zero, event.at), in_words(given_up), minutes_given_up(record, given_up)))
    return found


def first_cut(run: RecordedRun) -> Asked:
    """The first entry of the room that defers or trims."""
    for cut in cuts(run):
        return cut
    raise ValueError(f"{run.plan.sortie.id}: expected an entry that defers or trims; found none")


def told(folder: Path) -> Told:
    """Follow one sortie up to the first cut of its room."""
    run = load_run(folder)
    cut, zero = first_cut(run), truth_of(run).pet_zero
    entries = {minutes_between(zero, event.at) for event in run.events}
    steps = {STEP_MIN * i for i in range(int(cut.pet_min // STEP_MIN) + 1)}
    previous: Call | None = None
    first: float | None = None
    asked: list[Asked] = []
    for pet in sorted(at for at in entries | steps if 0.0 <= at < cut.pet_min):
        now = zero + timedelta(minutes=pet)
        record = reconcile(run.plan, run.known_at(now), now)
        previous = call_now(record, previous=previous, draws=DRAWS)
        first = pet if first is None and previous.call != "none" else first
        what = in_words(previous.for_now)
        if previous.call == "decide" and what not in {one.what for one in asked}:
            asked.append(Asked(pet, what, minutes_given_up(record, previous.for_now)))
    return Told(first, asked, cut)


def show(folders: dict[str, Path]) -> None:
    """Print one line for each sortie."""
    print("when the room would have been told and asked before its own first cut, PET")
    print(f"{'sortie':<16}{'told':>6}{'room cut':>10}   {'what it gave up':<34}asked for now")
    for name, folder in folders.items():
        found = told(folder)
        asked = "; ".join(f"{clock(one.pet_min)} {one.what} ({one.minutes:.0f} min)" for one in found.asked) or "nothing"
        first = "-" if found.first_expect_pet_min is None else clock(found.first_expect_pet_min)
        cut = f"{found.cut.what} ({found.cut.minutes:.0f} min less)"
        print(f"{name:<16}{first:>6}{clock(found.cut.pet_min):>10}   {cut:<34}{asked}")
    print(f"Bars: told {TOLD_BEFORE_MIN:g} min before the cut; asked for within {WITHIN_MIN:g} min of what the room gave up.\n")
