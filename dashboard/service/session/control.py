"""Control of the clock of a replay: the fields of a request, and what they do."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import instant_text, minutes_between, plus_minutes
from dashboard.core.plan.model import Instant
from dashboard.service.session.clock import ReplayClock
from dashboard.words import pet_named
from replay.player import FASTEST, SLOWEST, Direction

# Rounded minutes of a screen may lie slightly outside the run.
SEEK_TOLERANCE_MIN = 1.0


class ReplayControl(BaseModel):
    """What to do with the clock of a replay."""

    model_config = ConfigDict(extra="forbid")

    action: Literal["play", "pause", "seek", "speed", "step"]
    at: Instant | None = Field(default=None, description="seek: to this instant")
    at_pet_min: float | None = Field(default=None, description="seek: to this PET, minutes")
    speed: float | None = Field(default=None, description="speed: sortie seconds per real second, 1 to 600")
    pause: bool = Field(default=False, description="seek: pause there")
    direction: Direction | None = Field(default=None, description="step: next (default) or previous")
    to: Literal["event", "decision"] = Field(default="event", description="step: to any event, or to a decision")


def control_replay(
    clock: ReplayClock, wanted: ReplayControl, pet_zero: datetime, decisions: Sequence[datetime] = ()
) -> None:
    """Play, pause, seek, change the speed, or step.

    Parameters
    ----------
    clock : ReplayClock
        The clock to control.
    wanted : ReplayControl
        What to do with it.
    pet_zero : datetime
        The PET zero from which PETs are counted.
    decisions : sequence of datetime
        When the room received a decision, in order.

    Raises
    ------
    InputError
        When the speed or the time is out of range, there is no such decision, or play is wanted at the end of a rehearsal.
    """
    if wanted.action == "play":
        _refuse_at_open_end(clock, pet_zero)
        clock.play()
    elif wanted.action == "pause":
        clock.pause()
    elif wanted.action == "seek":
        (clock.show if wanted.pause else clock.seek)(_target(clock, wanted, pet_zero))
    elif wanted.action == "speed":
        clock.set_speed(_speed(wanted))
    elif wanted.to == "decision":
        clock.show(_decision(clock, wanted.direction or "next", decisions, pet_zero))
    else:
        clock.step(wanted.direction or "next")


def _refuse_at_open_end(clock: ReplayClock, pet_zero: datetime) -> None:
    if clock.at_open_end:
        found = f"its end, {pet_named(minutes_between(pet_zero, clock.last))}"
        cure = "Go to an earlier moment. Play does not start a rehearsal again."
        raise _wrong("replay play", "a moment before the end of the rehearsal", found, cure)


def _speed(wanted: ReplayControl) -> float:
    if wanted.speed is None or not SLOWEST <= wanted.speed <= FASTEST:
        found = "none" if wanted.speed is None else f"{wanted.speed:g}"
        raise _wrong("replay speed", f"'speed' from {SLOWEST:g} to {FASTEST:g}", found, "Give another speed.")
    return wanted.speed


def _target(clock: ReplayClock, wanted: ReplayControl, pet_zero: datetime) -> datetime:
    at, at_pet_min = wanted.at, wanted.at_pet_min
    if at_pet_min is not None and at is None:
        earliest, latest = (minutes_between(pet_zero, end) for end in (clock.first, clock.last))
        if earliest - SEEK_TOLERANCE_MIN <= at_pet_min <= latest + SEEK_TOLERANCE_MIN:
            return plus_minutes(pet_zero, at_pet_min)
        expected = f"a time of the run, {pet_named(earliest)} to {pet_named(latest)}"
        raise _wrong("replay seek", expected, pet_named(at_pet_min), "Choose a time of the run.")
    if at is not None and at_pet_min is None:
        if clock.first <= at <= clock.last:
            return at
        expected = f"a time of the run, {instant_text(clock.first)} to {instant_text(clock.last)}"
        raise _wrong("replay seek", expected, instant_text(at), "Choose a time of the run.")
    raise _wrong("replay seek", "one of 'at_pet_min' and 'at'", "both" if at else "neither", "Give one of them.")


def _decision(
    clock: ReplayClock, direction: Direction, decisions: Sequence[datetime], pet_zero: datetime
) -> datetime:
    here = clock.now()
    if direction == "next":
        found = next((instant for instant in decisions if instant > here), None)
    else:
        found = next((instant for instant in reversed(decisions) if instant < here), None)
    if found is None:
        expected = f"a decision {'after' if direction == 'next' else 'before'} {pet_named(minutes_between(pet_zero, here))}"
        raise _wrong("replay step", expected, "none", "Go to another moment first.")
    return found


def _wrong(subject: str, expected: str, found: str, cure: str) -> InputError:
    return InputError([Problem(subject, expected, found, cure)])
