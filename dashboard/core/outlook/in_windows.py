"""Windows under the forecast: work that no window holds, and work that may well miss the one that it is briefed in."""

from __future__ import annotations

from collections.abc import Iterator

from dashboard.core.base.minutes import length
from dashboard.core.base.wording import chance_text, listed
from dashboard.core.outlook.briefed import Briefed, found, named, pet
from dashboard.core.plan.fields import Finding
from dashboard.core.schedule.windows import windows_by_kind

LIKELY, WORTH_A_NOTE = 0.5, 0.2
TINY_MIN = 1e-6


def check_windows(briefed: Briefed) -> Iterator[Finding]:
    """Each task that needs windows, at plan pace and over the draws.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A caution when no window holds a task at plan pace, or when most draws miss the window that it is briefed in; a note when
        many draws do.
    """
    windows = windows_by_kind(briefed.plan.windows)
    expected = briefed.expected
    starts = dict(zip(expected.tasks, expected.starts, strict=True)) if expected is not None else {}
    for task in briefed.ordinary:
        slot = briefed.projection.slots.get(task.id)
        if not task.needs or slot is None:
            continue
        if slot.window_missed:
            yield found(
                "window-none", "caution", briefed.place(task.id, "needs"), named(task),
                f"a window of {listed(slot.window_missed)} that holds it, from {pet(slot.start_pet_min)} on", "none",
                "Move it forward, brief it shorter, or correct the windows.",
            )
            continue
        closes = [
            window.to for kind in task.needs for window in windows.get(kind, ())
            if task.start is not None and window.from_ - TINY_MIN <= task.start < window.to
        ]
        if len(closes) < len(task.needs) or task.id not in starts:
            continue
        missed = float((starts[task.id] >= min(closes) - TINY_MIN).mean())
        if missed < WORTH_A_NOTE:
            continue
        later = sorted(w.from_ for kind in task.needs for w in windows.get(kind, ()) if w.from_ >= min(closes))
        then = f"It then waits {length(later[0] - min(closes))} for the next one." if later else "There is no later one."
        yield found(
            "window-likely-missed" if missed >= LIKELY else "window-may-be-missed", "caution" if missed >= LIKELY else "note",
            briefed.place(task.id, "start"), named(task),
            f"to be in the window that it is briefed in, until {pet(min(closes))}", f"{chance_text(missed)} likely to miss it",
            "Brief it earlier in the window, or put work before it that may wait.", then,
        )
