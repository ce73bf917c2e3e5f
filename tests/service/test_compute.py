"""One cycle's work."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.record import fold
from dashboard.core.record.kept import KeptFold
from dashboard.service import compute
from dashboard.service.adviser import Adviser
from tests.scenario import at, log_of, plan_of, task


def test_a_cycle_folds_the_log_once(monkeypatch):
    """The state and the rows of the log share one fold, with and without advice, kept from cycle to cycle or not."""
    plan, events = plan_of(task("A", "EV1", 0, 30)), log_of("-0:01 note hello")
    folded = []

    def counted(*given):
        folded.append(given)
        return fold.reconcile(*given)

    real = KeptFold.reconcile
    monkeypatch.setattr(KeptFold, "reconcile", lambda *given: folded.append(given) or real(*given))
    for module in ("dashboard.service.compute", "dashboard.core.state.follow", "dashboard.core.state.log_in_words"):
        monkeypatch.setattr(f"{module}.reconcile", counted)
    adviser = Adviser()
    adviser.close()
    now = parse_instant(at("-0:01"))
    for make in (compute.compute_view, compute.KeptView(), compute.AdvisedCompute(adviser)):
        folded.clear()
        assert make(plan, events, [], now, "live").board["html"]["log-rows"]
        assert len(folded) == 1


def test_views_of_a_log_that_grows_are_those_of_the_whole_log():
    """State and board, event after event, a late one and a withdrawal among them."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 30, 30))
    log = log_of("0:00 clock\n0:01 start A\n0:40 done A\n0:20 hold A\n0:25 resume A\n0:45 start B\n0:50 withdraw e4\n0:55 done B")
    kept = compute.KeptView()
    for count in range(1, len(log) + 1):
        now = parse_instant(at(f"1:{count:02d}"))
        assert kept(plan, log[:count], [], now, "live") == compute.compute_view(plan, log[:count], [], now, "live")


def test_the_first_view_of_a_long_log_does_not_wait_for_the_times_of_its_alerts(monkeypatch):
    """The next one has them. Of a log of ordinary length the first has them too."""
    plan = plan_of(task("A", "EV1", 0, 500))
    log = log_of("0:00 clock\n0:10 start A\n0:20 note text=x")
    adviser = Adviser()
    adviser.close()

    def since(make) -> list[float | None]:
        return [alert.since_pet_min for alert in make(plan, log, [], parse_instant(at("1:00")), "live").state.alerts]

    assert since(compute.AdvisedCompute(adviser)) == [0]
    monkeypatch.setattr(compute, "LONG_LOG", 2)
    make = compute.AdvisedCompute(adviser)
    assert [since(make), since(make)] == [[None], [0]]
