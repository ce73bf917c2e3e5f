"""The ages at which events, readings and feeds become late, and then stale. No other place sets these ages."""

from __future__ import annotations

from typing import Literal, NamedTuple

Freshness = Literal["fresh", "late", "stale"]


class Ages(NamedTuple):
    """From which age on something is late, and from which it is stale, in minutes."""

    late_min: float
    stale_min: float

    def judge(self, age_min: float) -> Freshness:
        """How fresh something of this age is.

        Parameters
        ----------
        age_min
            Minutes since it came in.

        Returns
        -------
        str
            ``fresh``, ``late``, or ``stale``.
        """
        return "fresh" if age_min < self.late_min else "late" if age_min < self.stale_min else "stale"


EVENTS = Ages(10.0, 20.0)  # the last event of the log, in minutes of the sortie
READINGS = Ages(40.0, 60.0)  # the last suit reading, in minutes of the sortie
FEED = Ages(10.0, 20.0)  # the last news of one feed, in real minutes
