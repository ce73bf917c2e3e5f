"""Events dated far off the sortie: how far, and which of them say nothing then.

What happens to work at a time (a start, a hold, a reading) makes figures of that time. Dated years or days from the sortie
it is a slip of the pen: it does not count until its time is amended, and is listed as what does not fit. A change of plan
(defer, move, decide) rests on no time: it counts, and is listed all the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from dashboard.core.plan import Plan
from dashboard.core.sortie_state import Discrepancy
from dashboard.core.times import instant_text, minutes_between

FAR_OFF_MIN = 12 * 60.0
WORK_KINDS = ("start", "done", "hold", "resume", "break_off", "estimate")
TIMED_KINDS = (*WORK_KINDS, "insert", "reading", "check", "end")
NEVER_ODD = ("clock", "note", "amend", "withdraw")


def far_off(plan: Plan, pet_zero: datetime, event: Any) -> str | None:
    """How far an event is dated from the sortie, in words; None: it may well belong to it.

    Ordinary is from `FAR_OFF_MIN` before PET zero to as long after the limit. PET zero itself is held against the
    planned start; what an amendment changes the time to is judged by `far_off` of the event as amended.
    """
    zero = plan.sortie.start if event.kind == "clock" else pet_zero
    pet_min = minutes_between(zero, event.at)
    if -FAR_OFF_MIN <= pet_min <= plan.sortie.limit + FAR_OFF_MIN:
        return None
    whole = round(abs(pet_min))
    shown = f"{'-' if pet_min < 0 else ''}{whole // 60}:{whole % 60:02d}"
    if event.kind == "clock":
        return f"PET zero {shown} from the planned start"
    limit = round(plan.sortie.limit)
    return f"dated PET {shown}, the limit is PET {limit // 60}:{limit % 60:02d}"


def does_not_belong(plan: Plan, events: Iterable[Any], now: datetime) -> list[Discrepancy]:
    """A discrepancy for every event that is dated far off the sortie.

    Without a `clock` event, where all the work of the log is far off, it is the planned start that is out of date, and
    nothing is said of the events (`reconcile.zero_doubt` says it of PET zero).

    Parameters
    ----------
    plan : Plan
    events : iterable of event models
        As amended, those after `now` included.
    now : datetime
        Aware. A `clock` event after it does not set PET zero yet.
    """
    dated = list(events)
    zero = max((e.at for e in dated if e.kind == "clock" and e.at <= now), default=None)
    judged = plan.sortie.start if zero is None else zero
    odd = {e.id: said for e in dated if e.kind not in NEVER_ODD and (said := far_off(plan, judged, e)) is not None}
    if zero is None and not any(e.kind in WORK_KINDS and e.id not in odd for e in dated):
        return []
    return [
        Discrepancy(
            event=e.id,
            at=e.at,
            expected=f"a time within {FAR_OFF_MIN / 60:g} h of the sortie",
            found=f"{instant_text(e.at)}, {odd[e.id]}; it {counts_then(e, now)}: amend its time, or withdraw it",
        )
        for e in dated
        if e.id in odd
    ]


def counts_then(event: Any, now: datetime) -> str:
    """Whether an event that is dated far off counts, in words."""
    if event.kind in TIMED_KINDS:
        return "does not count"
    return "counts from then on" if event.at > now else "counts all the same"
