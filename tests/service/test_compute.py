"""One cycle's work."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.record import fold
from dashboard.service import compute
from dashboard.service.adviser import Adviser
from tests.scenario import at, log_of, plan_of, task


def test_a_cycle_folds_the_log_once(monkeypatch):
    """The state and the rows of the log share one fold, with and without advice."""
    plan, events = plan_of(task("A", "EV1", 0, 30)), log_of("-0:01 note hello")
    folded = []

    def counted(*given):
        folded.append(given)
        return fold.reconcile(*given)

    for module in ("dashboard.service.compute", "dashboard.core.state.follow", "dashboard.core.state.log_in_words"):
        monkeypatch.setattr(f"{module}.reconcile", counted)
    adviser = Adviser()
    adviser.close()
    now = parse_instant(at("-0:01"))
    for make in (compute.compute_view, compute.AdvisedCompute(adviser)):
        folded.clear()
        assert make(plan, events, [], now, "live").board["html"]["log-rows"]
        assert len(folded) == 1
