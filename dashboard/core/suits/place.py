"""How far back a lane is, at any PET from now on. `record.legs.Whereabouts` says where it is.

An arrival counts when the leg is done, not when it begins. On a leg the way back is interpolated between those of its two ends;
a leg that was broken off leaves the lane somewhere between them, with the longer of the two ways.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import NamedTuple

from dashboard.core.plan.model import Plan, Worksite
from dashboard.core.record.legs import Whereabouts, begun_pet_min
from dashboard.core.record.lifecycle import BROKEN_OFF, DEFERRED, DONE, NOT_STARTED
from dashboard.core.record.record import Record, TaskRun
from dashboard.core.schedule.plan_pace import Slot
from dashboard.core.suits.constants import DEFAULT_WORKLOAD, WORKLOAD_W


class Place(NamedTuple):
    """Where a lane is.

    Parameters
    ----------
    worksite : str or None
        On a leg the one that it left; None: not known.
    going_to : str or None
        Worksite at the end of the leg that it is on; None: it is on none.
    back_min : float or None
        Minutes back to the airlock; None: not known.
    back_watts : float
        Metabolic rate on the way back.
    """

    worksite: str | None
    going_to: str | None
    back_min: float | None
    back_watts: float

    def nearer(self, minutes: float) -> Place:
        """The same place with a shorter way back.

        Parameters
        ----------
        minutes
            How much shorter; the way back does not become less than none.

        Returns
        -------
        Place
        """
        return self if self.back_min is None else self._replace(back_min=max(0.0, self.back_min - minutes))


class _Stay(NamedTuple):
    """One task of a lane that moves it or holds it somewhere, as worked and as projected."""

    run: TaskRun
    start_pet_min: float
    finish_pet_min: float


class Places:
    """The places of the lanes at any PET from now on, by the log and then by the projection.

    Parameters
    ----------
    record : Record
    slots : mapping of str to Slot
        Of the projection at plan pace.
    home : collection of str
        The tasks of the way home: they do not count before they are begun.
    """

    def __init__(self, record: Record, slots: Mapping[str, Slot], home: Collection[str] = ()) -> None:
        self._sites = {site.id: site for site in record.plan.worksites}
        self._stays: dict[str, list[_Stay]] = {lane: [] for lane in record.plan.lane_ids()}
        self._now = max(0.0, record.pet_min)
        for task_id, run in record.runs.items():
            if run.task.leg is None and run.task.worksite is None:
                continue
            slot = slots.get(task_id)
            if run.state in (NOT_STARTED, DEFERRED):
                if slot is None or not record.in_plan(task_id) or task_id in home or run.task.get_ahead:
                    continue
                start = slot.start_pet_min
            else:
                start = begun_pet_min(run, record)
            finish = run.finish_pet_min if run.is_over else slot.finish_pet_min if slot is not None else start
            for lane in run.lanes:
                self._stays[lane].append(_Stay(run, start, finish if finish is not None else start))
        for stays in self._stays.values():
            stays.sort(key=lambda stay: stay.start_pet_min)

    def changes(self, lane: str) -> list[float]:
        """PET minutes at which the lane begins to be, or to move, somewhere else.

        Parameters
        ----------
        lane
            A lane of the plan.

        Returns
        -------
        list of float
        """
        return [pet_min for stay in self._stays[lane] for pet_min in (stay.start_pet_min, stay.finish_pet_min)]

    def at(self, lane: str, pet_min: float) -> Place:
        """The place of a lane.

        Parameters
        ----------
        lane
            A lane of the plan.
        pet_min
            PET minutes, not before now.

        Returns
        -------
        Place
        """
        here, place = Whereabouts(None), self.of(None)
        for stay in self._stays[lane]:
            if stay.start_pet_min > pet_min:
                break
            if stay.run.state == NOT_STARTED and pet_min <= self._now:
                continue
            here = here.after(stay.run.task, self._arrived(stay, pet_min))
            place = self.of(here.worksite) if here.towards is None else self._between(place, here.towards, stay, pet_min)
        return place

    def of(self, worksite: str | None) -> Place:
        """The place at a worksite.

        Parameters
        ----------
        worksite
            None: not known.

        Returns
        -------
        Place
            Without minutes when the worksite is not known or not in the plan.
        """
        site = self._sites.get(worksite) if worksite is not None else None
        return Place(worksite, None, None if site is None else site.return_min, _watts_back(site))

    def _arrived(self, stay: _Stay, pet_min: float) -> bool:
        """Whether a leg is over. One that is begun and overdue has not arrived now; it is taken to arrive at once."""
        if stay.run.state in (DONE, BROKEN_OFF):
            return stay.run.state == DONE
        return stay.finish_pet_min <= pet_min and (stay.run.state == NOT_STARTED or pet_min > self._now)

    def _between(self, left: Place, to: str, stay: _Stay, pet_min: float) -> Place:
        there = self.of(to)
        watts = max(left.back_watts, there.back_watts) if left.back_min is not None else there.back_watts
        if there.back_min is None or left.back_min is None:
            return Place(left.worksite, to, there.back_min if left.back_min is None else left.back_min, watts)
        if stay.run.state == BROKEN_OFF:
            return Place(left.worksite, to, max(left.back_min, there.back_min), watts)
        worked = stay.run.worked_min(pet_min) if stay.run.state != NOT_STARTED else pet_min - stay.start_pet_min
        whole = worked + max(0.0, stay.finish_pet_min - pet_min)
        share = min(1.0, worked / whole) if whole > 0 else 0.0
        return Place(left.worksite, to, left.back_min + share * (there.back_min - left.back_min), watts)


def _watts_back(site: Worksite | None) -> float:
    load = DEFAULT_WORKLOAD if site is None else site.return_workload
    return WORKLOAD_W[load] if isinstance(load, str) else float(load)


def return_min(plan: Plan, worksite: str | None) -> float | None:
    """Time of the way back from a worksite to the airlock.

    Parameters
    ----------
    plan
        It gives the time for each worksite.
    worksite
        None: the place of the lane is not known.

    Returns
    -------
    float or None
        Minutes; None when the worksite is not known or not in the plan.
    """
    return next((w.return_min for w in plan.worksites if w.id == worksite), None)
