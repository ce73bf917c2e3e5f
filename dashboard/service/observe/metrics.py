"""The metrics of one server, as Prometheus reads them.

Counters and histograms are updated when something happens; gauges when the metrics are requested. The names follow the
conventions of Prometheus: a unit at the end, `_total` for counters.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST as CONTENT_TYPE

__all__ = ["CONTENT_TYPE", "Gauged", "Metrics"]
# Outcomes of an entry. Each has a counter from the start, so that Prometheus can compute its rate.
OUTCOMES = ("recorded", "already recorded", "conflict", "unread", "quarantined", "refused", "in memory only")
QUICK_S = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
SLOW_S = (0.1, 0.25, 0.5, 1, 2.5, 5, 10, 20, 40, 80, 160)


class Gauged(NamedTuple):
    """Values that are measured when the metrics are requested.

    Parameters
    ----------
    viewers : int
        Boards that are connected.
    feed_ages_s : mapping
        Name of a feed -> age of its last news, in seconds.
    feeds_in_order : mapping
        Name of a feed -> False when it needs attention.
    store_lag_s : float
        For how many seconds an acknowledged event has not been shown by the newest version; 0: all are shown.
    version_age_s : float or None
        Age of the newest version, in seconds; None: there is none yet.
    events : int
        Events in the log.
    quarantined : int
        Entries in quarantine.
    unread : int
        Unread lines, those in quarantine included.
    ready : bool
        Whether the server can serve.
    """

    viewers: int
    feed_ages_s: Mapping[str, float]
    feeds_in_order: Mapping[str, bool]
    store_lag_s: float
    version_age_s: float | None
    events: int
    quarantined: int
    unread: int
    ready: bool


class Metrics:
    """The metrics of one server. Safe to use from several threads."""

    def __init__(self) -> None:
        self._registry = registry = CollectorRegistry()
        ProcessCollector(registry=registry)
        self._entries = Counter(
            "tetherline_entries", "Entries that came in, by outcome.", ["outcome"], registry=registry
        )
        for outcome in OUTCOMES:
            self._entries.labels(outcome)
        self._entry_s = Histogram(
            "tetherline_entry_seconds", "Time from arrival to acknowledgement of an entry.", buckets=QUICK_S, registry=registry
        )
        self._cycle_s = Histogram(
            "tetherline_cycle_seconds", "Time to make one version of the board.", buckets=QUICK_S, registry=registry
        )
        self._advice_s = Histogram("tetherline_advice_seconds", "Time to make advice.", buckets=SLOW_S, registry=registry)
        self._gauges = {
            name: Gauge(f"tetherline_{name}", said, registry=registry)
            for name, said in (
                ("viewers", "Boards that are connected."),
                ("store_lag_seconds", "Time for which an acknowledged event has not been shown by the newest version."),
                ("version_age_seconds", "Age of the newest version of the board; NaN: there is none yet."),
                ("events", "Events in the log."),
                ("quarantined", "Entries in quarantine."),
                ("unread", "Unread lines, those in quarantine included."),
                ("ready", "1: the server can serve; 0: it cannot."),
            )
        }
        self._feed_age_s = Gauge("tetherline_feed_age_seconds", "Age of the last news of a feed.", ["feed"], registry=registry)
        self._feed_ok = Gauge("tetherline_feed_in_order", "1: in order; 0: it needs attention.", ["feed"], registry=registry)

    def entered(self, outcomes: Sequence[Mapping[str, Any]], took_s: float) -> None:
        """Count the entries of one request.

        Parameters
        ----------
        outcomes
            The outcome of each entry, with its `status`.
        took_s
            Time from their arrival to their acknowledgement, in seconds.
        """
        for outcome in outcomes:
            self._entries.labels(outcome["status"]).inc()
        self._entry_s.observe(took_s)

    def cycle_took(self, seconds: float) -> None:
        """Count a version that was made.

        Parameters
        ----------
        seconds
            How long it took.
        """
        self._cycle_s.observe(seconds)

    def advice_took(self, seconds: float) -> None:
        """Count advice that was made.

        Parameters
        ----------
        seconds
            How long it took.
        """
        self._advice_s.observe(seconds)

    def text(self, now: Gauged) -> bytes:
        """All metrics.

        Parameters
        ----------
        now
            The values of the gauges.

        Returns
        -------
        bytes
            In the text format of Prometheus, of type `CONTENT_TYPE`.
        """
        version_age_s = float("nan") if now.version_age_s is None else now.version_age_s
        told = {**now._asdict(), "store_lag_seconds": now.store_lag_s, "version_age_seconds": version_age_s}
        for name, gauge in self._gauges.items():
            gauge.set(told[name])
        for name, age_s in now.feed_ages_s.items():
            self._feed_age_s.labels(name).set(age_s)
            self._feed_ok.labels(name).set(now.feeds_in_order[name])
        return generate_latest(self._registry)
