"""Turn-back time: the latest PET at which the crew can drop everything that may be dropped and still be in by the limit.

Everybody turns back at once, since the crew go in as a pair, so one time holds for all. Each lane leaves what it has in hand,
goes back to the airlock, and does its required tasks there in the order of the plan of record. The forward pass
(`schedule/forward.py`) says when each lane is in. Turning back at T is in time if every lane is in by the limit, and every
consumable of its suit is above the reserve when it is in. What it uses comes from the work up to T, from the work that must still
be done, and from the way back at the metabolic rate that the worksite gives for it. The turn-back time is the last T before the
first one that is too late. If even now is too late, it lies in the past, by as many minutes as are missing. What must still be
done when the crew turns back at T:

- Work in hand now does not count if the projection has it over by T. Else it costs its close-out or what remains of it at T,
  whichever is less; it costs what remains of it where it may not be broken off. The close-out of a task just broken off is
  finished first.
- A required task that has not begun does not count if the projection has it over by T. A required task that is under way at T
  is finished.
- The way home (`way_home.py`: the last tasks of a lane that are required) counts whatever T is, and so does what remains of it
  once it is begun.
- A task that is neither required nor begun is dropped. Once it is begun it counts like other work in hand, so the turn-back
  time may then move earlier.

The turn-back time errs on the early side:

- The way back is the longest of the ways from where the lane is now, from where the projection has it at T (`place.py`), and from
  the worksites of its required tasks that have not begun. The lane is taken to go out there once more; the way out is not
  counted, since no plan gives it. A leg in hand that may not be broken off is finished, and the way back is then that from its
  end. Turning round on it may take longer; then that counts instead of the two, and not besides.
- The plan may hold the way back as a required task. Way and task are then counted once, at the longer of the two. Such a task
  has the activity `way home`, or is a leg to a worksite with no way back (the airlock), or all of this is so: it is at such a
  worksite; the lane's briefed task before it is at a worksite with a way back; the plan leaves no time for that way between the
  two; its shortest briefed duration is no more than that way. Any other task at the airlock, or without a worksite, is work to be
  done there, and the way is counted besides.
- Waiting for a window or a `not_before` is left out: it passes, whenever the lane turns back.

Leave-by time of a worksite: the same, for a crew that has finished what it does there and leaves it at T.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import NamedTuple

from dashboard.core.plan.model import CONSUMABLE_NAMES, Plan
from dashboard.core.record.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.float_or_array import latest
from dashboard.core.schedule.forward import LaneFree, Work, forward
from dashboard.core.schedule.network import now_of
from dashboard.core.schedule.plan_pace import Projection, Slot
from dashboard.core.suits.budget import Budget, UseFrom, rate_of, use_between, watts, workload_of_lane
from dashboard.core.suits.physiology import Rate
from dashboard.core.suits.place import Place, Places, return_min
from dashboard.core.suits.way_home import tasks_of_way_home

WAY_HOME = "way home"
CLOSE_ENOUGH_MIN = 1e-7
DECIMALS = 6
JUST_AFTER_MIN = 4e-7
NOISE_MIN = 1e-9
MOST_STEPS = 60

_Piece = tuple[float, float, float]  # from PET, to PET, watts


class Missed(NamedTuple):
    """Minutes to spare when the crew is in (negative: too late), and the limit or the suit that has the fewest."""

    spare_min: float
    by: str


class TurnBack(NamedTuple):
    """A turn-back or leave-by time in PET minutes, and what sets it, in words."""

    pet_min: float
    set_by: str


class WayBack:
    """Turn-back and leave-by times of the crew at one instant, by the rules at the top.

    Parameters
    ----------
    record : Record
    projection : Projection
        At plan pace.
    places : Places
        Made with the tasks of the way home left out.
    budget : mapping of (str, str) to Budget
        (suit, consumable) -> budget, of those that may set a limit.
    crew : collection of str
        Crew lanes that are not in yet. Joint tasks wait for the other lanes too.
    """

    def __init__(
        self, record: Record, projection: Projection, places: Places, budget: Mapping[tuple[str, str], Budget],
        crew: Collection[str],
    ) -> None:
        self.record, self.slots, self.places = record, projection.slots, places
        self.now = now_of(record)
        self.limit = record.plan.sortie.limit_less_reserve_pet_min
        self.crew = tuple(crew)
        lanes = record.plan.lane_ids()
        self.free_pet_min = {lane: max(self.now, projection.lane_free_first.get(lane, self.now)) for lane in lanes}
        self.home = tasks_of_way_home(record)
        runs = [record.runs[task_id] for task_id in record.order if record.in_plan(task_id)]
        self.in_hand = [self._in_hand(run) for run in runs if run.state in (IN_WORK, ON_HOLD)]
        self.required = [run for run in runs if run.state == NOT_STARTED and run.task.required]
        self.here = {lane: places.at(lane, self.now) for lane in lanes}
        self.out = {
            lane: [places.of(run.task.worksite) for run in self.required if lane in run.lanes and run.task.leg is None]
            for lane in lanes
        }
        self.ways = {
            (run.task.id, lane) for run in self.required for lane in run.lanes if is_way_home(record.plan, run, lane)
        }
        wears = {lane.id: lane.suit for lane in record.plan.lanes}
        suits = {suit.id: suit.consumables() for suit in record.plan.suits}
        self.supplies: dict[str, list[_Supply]] = {lane: [] for lane in self.crew}
        for lane in self.crew:
            worn = {name: one for (suit, name), one in budget.items() if suit == wears[lane]}
            if worn:
                pieces = workload_of_lane(record, projection, lane, max(projection.end_pet_min or 0.0, self.now))
                suit = wears[lane] or ""
                self.supplies[lane] = [
                    _supply(suit, name, one, rate_of(name, suits[suit][name]), pieces, self.now) for name, one in worn.items()
                ]

    def turn_back(self) -> TurnBack | None:
        """The turn-back time of the crew.

        Returns
        -------
        TurnBack or None
            None when nobody is out.
        """
        if not self.crew:
            return None
        times = {time for time in self._breakpoints() if self.now < time < self.limit}
        return _last_in_time(self.spare, [self.now, *sorted(times), *([self.limit] if self.limit > self.now else [])])

    def leave_by(self, worksite: str) -> TurnBack | None:
        """The latest PET at which the crew can leave a worksite, its work there finished, by the way back alone.

        Parameters
        ----------
        worksite
            A worksite of the plan.

        Returns
        -------
        TurnBack or None
            None when nobody is out.
        """
        if not self.crew:
            return None
        there = self.places.of(worksite)

        def spare(at_pet_min: float) -> Missed:
            return self.spare(at_pet_min, there)

        return _last_in_time(spare, [self.now, *([self.limit] if self.limit > self.now else [])])

    def spare(self, at_pet_min: float, left: Place | None = None) -> Missed:
        """What the crew has to spare when it is in, if it turns back at a PET.

        Parameters
        ----------
        at_pet_min
            PET minutes, not before now.
        left
            The worksite that every lane leaves then, with nothing in hand; None: each lane leaves where it is.

        Returns
        -------
        Missed
            The least of all lanes and consumables. A consumable is counted in minutes of waiting.
        """
        free, back = self._in(at_pet_min, left)
        found = []
        for lane in self.crew:
            found.append(Missed(self.limit - free[lane], "the planned limit" + (" less reserve" if self._reserve else "")))
            if not self.supplies[lane]:
                continue
            until = max(at_pet_min, free[lane])
            pieces = _filled(back[lane], at_pet_min, until)
            for supply in self.supplies[lane]:
                used = supply.used.until(at_pet_min)
                used += use_between(pieces, supply.rate, at_pet_min, until)
                found.append(Missed((supply.usable - used) / supply.idle_per_min, supply.said))
        return min(found)

    @property
    def _reserve(self) -> bool:
        return self.record.plan.sortie.reserve > 0

    def _in_hand(self, run: TaskRun) -> _InHand:
        slot = self.slots.get(run.task.id)
        start = self.now if slot is None or run.state == IN_WORK else slot.start_pet_min
        finish = start + run.remaining_min(self.record.pet_min)
        droppable = run.task.closeout is not None and not run.task.required
        plan = self.record.plan
        home = run.task.required and (
            return_min(plan, run.task.leg or run.task.worksite) == 0.0 or any(is_way_home(plan, run, lane) for lane in run.lanes)
        )
        towards = None if droppable or home else run.task.leg
        return _InHand(run.lanes, start, finish, run.task.closeout if droppable else None, home, towards, watts(run.task))

    def _breakpoints(self) -> set[float]:
        """The times at which what must still be done, or where a lane is, changes its course."""
        found = set(self.free_pet_min.values())
        for work in self.in_hand:
            found |= {work.start_pet_min, work.finish_pet_min, work.finish_pet_min - (work.closeout_min or 0.0)}
        for run in self.required:
            if (slot := self._passing(run)) is not None:
                found |= {slot.start_pet_min, slot.finish_pet_min}
        for lane in self.crew:
            found.update(self.places.changes(lane))
        return found

    def _passing(self, run: TaskRun) -> Slot | None:
        """Slot of a required task that may be over by the turn-back time; None: it counts whatever that is."""
        return None if run.task.id in self.home else self.slots.get(run.task.id)

    def _way(self, lane: str, at_pet_min: float, left: Place | None) -> Place:
        """The longest of the ways back that a lane may have to go."""
        if left is not None:
            return left if lane in self.crew else Place(None, None, 0.0, 0.0)
        here, then = self.here[lane], self.places.at(lane, at_pet_min)
        ways = [here, then, *self.out[lane]]
        for work in self.in_hand:
            if lane not in work.lanes:
                continue
            if work.home:
                ways = [here, *self.out[lane]]
            elif work.towards is not None and (left_min := work.left_min(at_pet_min)) > 0:
                turned = [here.nearer(work.left_min(self.now)), then.nearer(left_min)]
                ways = [self.places.of(work.towards), *turned, *self.out[lane]]
        return max(ways, key=lambda place: (place.back_min or 0.0, place.back_watts))

    def _in(self, at_pet_min: float, left: Place | None) -> tuple[dict[str, float], dict[str, list[_Piece]]]:
        """For each lane the PET minutes at which it is in if all turn back at a PET, and its work from then on."""
        back: dict[str, list[_Piece]] = {lane: [] for lane in self.free_pet_min}
        lane_free: LaneFree = {lane: max(at_pet_min, free) for lane, free in self.free_pet_min.items()}
        for work in self.in_hand if left is None else ():
            for lane in work.lanes:
                begin = float(lane_free[lane])
                lane_free[lane] = begin + work.left_min(at_pet_min)
                back[lane].append((begin, float(lane_free[lane]), work.watts))
        over: dict[str, float] = {}
        still: list[TaskRun] = []
        for run in self.required:
            slot = self._passing(run)
            if slot is None or slot.start_pet_min > at_pet_min:
                still.append(run)
                continue
            over[run.task.id] = slot.finish_pet_min
            for lane in run.lanes:
                back[lane].append((at_pet_min, slot.finish_pet_min, watts(run.task)))
                lane_free[lane] = latest((lane_free[lane], slot.finish_pet_min))
        ways = {lane: self._way(lane, at_pet_min, left) for lane in self.free_pet_min}
        work_list, length_min = self._work(still, ways)
        loads = {_way_back(lane): way.back_watts for lane, way in ways.items()}
        loads |= {run.task.id: watts(run.task) for run in still}
        for placed in forward(
            work_list, length_min.__getitem__, now_pet_min=at_pet_min, lane_free_pet_min=lane_free, finished_pet_min=over,
            windows={},
        ):
            if placed.work.task in loads:
                for lane in placed.work.lanes:
                    back[lane].append((float(placed.start_pet_min), float(placed.finish_pet_min), loads[placed.work.task]))
        return {lane: float(free) for lane, free in lane_free.items()}, back

    def _work(self, required: Sequence[TaskRun], ways: Mapping[str, Place]) -> tuple[list[Work], dict[str, float]]:
        """What must be done by all lanes, and how long each piece takes: the way back, then the required tasks.

        Where a task is the way back itself, the part of the way that it covers is given back to the lane before it.
        """
        work = [Work(_way_back(lane), (lane,)) for lane in ways]
        uncovered = {lane: way.back_min or 0.0 for lane, way in ways.items()}
        length_min = {_way_back(lane): minutes for lane, minutes in uncovered.items()}
        for run in required:
            task = run.task
            for lane in run.lanes:
                if (task.id, lane) in self.ways:
                    name, covered = f"way back of {lane}, in {task.id}", min(uncovered[lane], run.planned_min)
                    work.append(Work(name, (lane,)))
                    length_min[name] = -covered
                    uncovered[lane] -= covered
            links = [*((other, 0.0) for other in task.after), *((follow.task, follow.lag) for follow in task.follows)]
            work.append(Work(task.id, run.lanes, links))
            length_min[task.id] = run.planned_min
        return work, length_min


class _InHand(NamedTuple):
    """Work in hand now, as projected. `closeout_min` None: may not be broken off; `home`: it is the way home.

    `towards`: worksite at the end of a leg that is finished in any case; None: it is no such leg.
    """

    lanes: tuple[str, ...]
    start_pet_min: float
    finish_pet_min: float
    closeout_min: float | None
    home: bool
    towards: str | None
    watts: float

    def left_min(self, at_pet_min: float) -> float:
        """Minutes that must still be done of it when the crew turns back at a PET."""
        whole = self.finish_pet_min - self.start_pet_min
        left = whole if self.home else max(0.0, self.finish_pet_min - max(at_pet_min, self.start_pet_min))
        return left if self.closeout_min is None else min(left, self.closeout_min)


class _Supply(NamedTuple):
    """What a suit may still use of one consumable above its reserve, what it uses from now on, and what it is called."""

    usable: float
    rate: Rate
    used: UseFrom
    idle_per_min: float
    said: str


def _supply(suit: str, name: str, one: Budget, plain: Rate, pieces: Sequence[_Piece], now_pet_min: float) -> _Supply:
    rate = Rate(plain.base * one.factor, plain.per_watt * one.factor)
    idle = (rate.base + rate.per_watt * watts(None)) / 60.0
    used = UseFrom(pieces, rate, now_pet_min)
    return _Supply(one.left - one.reserve, rate, used, idle or math.inf, f"suit {suit} {CONSUMABLE_NAMES[name]}")


def _filled(work: Sequence[_Piece], begin: float, end: float) -> list[_Piece]:
    """Work in order of time without gaps or overlaps: the first of two counts where they overlap, waiting in between."""
    pieces: list[_Piece] = []
    at = begin
    for since, to, load in sorted(work):
        if to <= at:
            continue
        if since > at:
            pieces.append((at, since, watts(None)))
        pieces.append((max(at, since), to, load))
        at = to
    return pieces if at >= end else [*pieces, (at, end, watts(None))]


def _last_in_time(spare: Callable[[float], Missed], times: Sequence[float]) -> TurnBack:
    """The last time before the first one that is too late. Between the times given, what is spare changes steadily."""
    before, had = times[0], spare(times[0])
    if had.spare_min < 0 or len(times) == 1:
        return TurnBack(before + min(0.0, had.spare_min), had.by)
    for time in times[1:]:
        has = spare(time)
        if has.spare_min < -CLOSE_ENOUGH_MIN:
            return _between(spare, before, had, time, has)
        before, had = time, has
    return TurnBack(before, had.by)


def _between(spare: Callable[[float], Missed], low: float, had: Missed, high: float, has: Missed) -> TurnBack:
    """The last time in time between one that is and one that is not: by the straight line, and by halves where it bends."""
    for step in range(MOST_STEPS):
        if high - low <= CLOSE_ENOUGH_MIN:
            break
        by_line = step % 3 < 2 and had.spare_min > CLOSE_ENOUGH_MIN
        share = had.spare_min / (had.spare_min - has.spare_min) if by_line else 0.5
        middle = low + share * (high - low)
        found = spare(middle)
        if found.spare_min >= -CLOSE_ENOUGH_MIN:
            low, had = middle, found
            just_after = min(high, middle + JUST_AFTER_MIN)
            if found.spare_min <= CLOSE_ENOUGH_MIN and spare(just_after).spare_min < -CLOSE_ENOUGH_MIN:
                break
        else:
            high, has = middle, found
    rounded = round(low, DECIMALS)
    early = rounded if spare(rounded).spare_min >= -NOISE_MIN else rounded - 10**-DECIMALS
    return TurnBack(early, has.by)


def _way_back(lane: str) -> str:
    return f"way back of {lane}"


def is_way_home(plan: Plan, run: TaskRun, lane: str) -> bool:
    """Whether a task is the way back itself, by the rule at the top.

    Parameters
    ----------
    plan : Plan
    run : TaskRun
    lane : str
        The task may be the way back of one of its lanes and not of the other.

    Returns
    -------
    bool
    """
    if run.task.activity == WAY_HOME or (run.task.leg is not None and return_min(plan, run.task.leg) == 0.0):
        return True
    start = run.task.start
    if start is None or return_min(plan, run.task.worksite) != 0.0:
        return False
    before = [t for t in plan.tasks if lane in t.lanes and t.start is not None and t.start < start]
    last = max(before, key=lambda t: t.start or 0.0, default=None)
    way = return_min(plan, last.leg or last.worksite) if last is not None else None
    if last is None or not way:
        return False
    between = start - ((last.start or 0.0) + last.likely_min)
    return between < way and run.task.duration.low <= way
