"""The metrics of one server, as Prometheus reads them.

Counters and histograms are told as things happen; gauges are told when somebody asks. The names follow the conventions of
Prometheus: a unit at the end, `_total` for what only rises.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST as CONTENT_TYPE

__all__ = ["CONTENT_TYPE", "Gauged", "Metrics"]
# What may become of an entry. All of them are there from the first on, so that a rate can be made of each.
OUTCOMES = ("recorded", "already recorded", "conflict", "unread", "quarantined", "refused", "in memory only")
QUICK_S = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
SLOW_S = (0.1, 0.25, 0.5, 1, 2.5, 5, 10, 20, 40, 80, 160)


class Gauged(NamedTuple):
    """What is measured when somebody asks.

    Parameters
    ----------
    viewers : int
        Boards that are connected.
    feed_ages_s, feeds_in_order : mapping
        Name of a feed -> age of its last news; whether nobody has to look after it.
    store_lag_s : float
        For how long something is acknowledged that the newest version does not show yet.
    version_age_s : float or None
        Age of the newest version; None: there is none yet.
    events, quarantined, unread : int
        In the log: events, entries in quarantine, all lines that are not read, those in quarantine among them.
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
            "tetherline_entries", "Entries that came in, by what became of them.", ["outcome"], registry=registry
        )
        for outcome in OUTCOMES:
            self._entries.labels(outcome)
        self._entry_s = Histogram(
            "tetherline_entry_seconds", "From an entry coming in to its acknowledgement.", buckets=QUICK_S, registry=registry
        )
        self._cycle_s = Histogram(
            "tetherline_cycle_seconds", "Making one version of the board.", buckets=QUICK_S, registry=registry
        )
        self._advice_s = Histogram("tetherline_advice_seconds", "Making advice.", buckets=SLOW_S, registry=registry)
        self._gauges = {
            name: Gauge(f"tetherline_{name}", said, registry=registry)
            for name, said in (
                ("viewers", "Boards that are connected."),
                ("store_lag_seconds", "For how long something is acknowledged that the newest version does not show yet."),
                ("version_age_seconds", "Age of the newest version of the board; NaN: there is none yet."),
                ("events", "Events in the log."),
                ("quarantined", "Entries in quarantine."),
                ("unread", "Lines that are not read, those in quarantine among them."),
                ("ready", "1: the server can serve."),
            )
        }
        self._feed_age_s = Gauge("tetherline_feed_age_seconds", "Age of the last news of a feed.", ["feed"], registry=registry)
        self._feed_ok = Gauge("tetherline_feed_in_order", "1: nobody has to look after it.", ["feed"], registry=registry)

    def entered(self, outcomes: Sequence[Mapping[str, Any]], took_s: float) -> None:
        """Entries came in together, and were answered with these outcomes."""
        for outcome in outcomes:
            self._entries.labels(outcome["status"]).inc()
        self._entry_s.observe(took_s)

    def cycle_took(self, seconds: float) -> None:
        """A version was made."""
        self._cycle_s.observe(seconds)

    def advice_took(self, seconds: float) -> None:
        """Advice was made."""
        self._advice_s.observe(seconds)

    def text(self, now: Gauged) -> bytes:
        """All of it, in the text format of Prometheus."""
        version_age_s = float("nan") if now.version_age_s is None else now.version_age_s
        told = {**now._asdict(), "store_lag_seconds": now.store_lag_s, "version_age_seconds": version_age_s}
        for name, gauge in self._gauges.items():
            gauge.set(told[name])
        for name, age_s in now.feed_ages_s.items():
            self._feed_age_s.labels(name).set(age_s)
            self._feed_ok.labels(name).set(now.feeds_in_order[name])
        return generate_latest(self._registry)
