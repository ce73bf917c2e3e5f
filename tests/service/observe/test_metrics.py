"""The metrics of one server."""

from __future__ import annotations

import math
from typing import get_args, get_type_hints

from prometheus_client.parser import text_string_to_metric_families

from dashboard.log.store import Outcome
from dashboard.service.observe.metrics import OUTCOMES, Gauged, Metrics

NOW = Gauged(
    viewers=3, feed_ages_s={"crew.jsonl": 12.5}, feeds_in_order={"crew.jsonl": True}, store_lag_s=0.25, version_age_s=None,
    events=7, quarantined=1, unread=2, ready=False,
)  # fmt: skip


def read(metrics: Metrics, now: Gauged = NOW) -> dict[tuple[str, str], float]:
    """Each sample, by its name and its labels."""
    families = text_string_to_metric_families(metrics.text(now).decode())
    return {(one.name, ",".join(one.labels.values())): one.value for family in families for one in family.samples}


def test_what_happened_is_counted():
    """Entries by outcome, and how long things took."""
    metrics = Metrics()
    metrics.entered([{"status": "recorded"}, {"status": "refused"}], 0.02)
    metrics.cycle_took(0.3)
    metrics.advice_took(7.0)
    found = read(metrics)
    assert found["tetherline_entries_total", "recorded"] == 1 and found["tetherline_entries_total", "refused"] == 1
    assert found["tetherline_entries_total", "quarantined"] == 0
    for name, seconds in (("entry", 0.02), ("cycle", 0.3), ("advice", 7.0)):
        assert (found[f"tetherline_{name}_seconds_count", ""], found[f"tetherline_{name}_seconds_sum", ""]) == (1, seconds)


def test_what_is_there_is_measured_when_somebody_asks():
    """What is not known is no number."""
    found = read(Metrics())
    assert found["tetherline_viewers", ""] == 3 and found["tetherline_store_lag_seconds", ""] == 0.25
    assert found["tetherline_feed_age_seconds", "crew.jsonl"] == 12.5 and found["tetherline_feed_in_order", "crew.jsonl"] == 1
    assert (found["tetherline_quarantined", ""], found["tetherline_unread", ""]) == (1, 2)
    assert found["tetherline_ready", ""] == 0 and math.isnan(found["tetherline_version_age_seconds", ""])


def test_every_outcome_of_an_entry_is_there_from_the_first_on():
    """Those of the store, and what it is not even asked about."""
    assert set(OUTCOMES) == {*get_args(get_type_hints(Outcome)["status"]), "refused"}


def test_two_servers_of_one_process_do_not_share_their_numbers():
    """As in tests."""
    first, second = Metrics(), Metrics()
    first.cycle_took(1.0)
    assert read(second)["tetherline_cycle_seconds_count", ""] == 0
