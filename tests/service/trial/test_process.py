"""The process in which events are tried: what it survives, and its limits."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Plan
from dashboard.service.compute import compute_view
from dashboard.service.trial import process as module
from dashboard.service.trial.effect import figures_of_state
from dashboard.service.trial.process import TrialClosed, TrialProcess
from dashboard.service.trial.worker import Broke, Ran
from tests.scenario import at, log_of
from tests.service.trial.cycles import brittle_view, does_not_start

NOW = parse_instant(at("1:00"))
GOOD = log_of("0:00 clock\n0:01 start T010\n0:36 done T010")


def note(text: str, pet: str = "0:40") -> list:
    return [one.model_copy(update={"id": "n", "seq": 9, "text": text}) for one in log_of(f"{pet} note text=x")]


@pytest.fixture
def trial(plan: Plan, monkeypatch) -> Iterator[TrialProcess]:
    monkeypatch.setattr(module, "BUDGET_S", 0.5)
    made = TrialProcess(plan, brittle_view)
    yield made
    made.close()


def test_it_runs_the_cycle_of_the_desk(trial: TrialProcess, plan: Plan):
    """The figures are those of the state, without and with what is entered."""
    answer = trial.run(GOOD, NOW, "live", compare=2)
    assert isinstance(answer, Ran)
    wanted = [figures_of_state(compute_view(plan, events, [], NOW, "live").state) for events in (GOOD[:2], GOOD)]
    assert [answer.before, answer.after] == wanted


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("break", "ValueError: a gap in the rail"), ("hang", "busy for more than"), ("fill the memory", "MemoryError"),
        ("end the process", "it ended the process"),
    ],
)  # fmt: skip
def test_whatever_an_event_does_to_the_cycle_is_said_and_the_next_trial_runs(trial: TrialProcess, text: str, why: str):
    """An exception, an endless loop, a lack of memory, an end without a word."""
    assert isinstance(trial.run(GOOD, NOW, "live"), Ran)
    broke = trial.run([*GOOD, *note(text)], NOW, "live")
    assert isinstance(broke, Broke) and why in broke.why
    assert isinstance(trial.run(GOOD, NOW, "live"), Ran)


def test_slow_cycles_do_not_make_the_limit_grow_without_end(trial: TrialProcess):
    """A cycle of 100 s that was let pass leaves the next one no more than the size of its log allows."""
    trial._took_s = 1.0
    assert trial._budget_s(1000) == 0.5 + 4.0
    trial._took_s = 100.0
    assert trial._budget_s(1000) == 20 + 2


def test_a_process_that_cannot_start_is_no_fault_of_an_event(trial: TrialProcess, monkeypatch: pytest.MonkeyPatch):
    """It is said as such: the event is then kept without a trial, and not put into quarantine. Once it starts, it runs."""
    with monkeypatch.context() as here:
        here.setattr(module, "serve_questions", does_not_start)
        with pytest.raises(OSError, match=r"did not start \(exit code 1\)"):
            trial.run(GOOD, NOW, "live")
    assert isinstance(trial.run(GOOD, NOW, "live"), Ran)


def test_what_is_dated_ahead_is_tried_at_its_time_too(trial: TrialProcess):
    """It breaks nothing now; it would later."""
    ahead = [*GOOD, *note("break", "1:30")]
    assert isinstance(trial.run(ahead, NOW, "live"), Ran)
    assert isinstance(trial.run(ahead, NOW, "live", later=ahead[-1].at), Broke)


def test_it_is_told_whether_the_log_was_broken_before(trial: TrialProcess):
    """So that the new event is not blamed for it."""
    broken = [*GOOD, *note("break")]
    last = [one.model_copy(update={"id": "last", "seq": 10}) for one in log_of("0:41 note text=fine")]
    assert trial.run([*broken, *last], NOW, "live", compare=len(broken)) == Broke("ValueError: a gap in the rail", True)
    assert trial.run(broken, NOW, "live", compare=len(GOOD)) == Broke("ValueError: a gap in the rail", False)


def test_a_process_that_is_killed_from_outside_is_replaced(trial: TrialProcess):
    """The trial runs all the same; no event is blamed."""
    trial.run(GOOD, NOW, "live")
    assert trial._process is not None and trial._process.pid is not None
    os.kill(trial._process.pid, signal.SIGKILL)
    assert isinstance(trial.run(GOOD, NOW, "live"), Ran)


def test_once_closed_it_tries_nothing(trial: TrialProcess):
    """The server stops; no process is left."""
    trial.run(GOOD, NOW, "live")
    trial.close()
    with pytest.raises(TrialClosed):
        trial.run(GOOD, NOW, "live")


def test_an_entry_is_judged_by_its_own_content_after_another_of_its_id_broke(trial: TrialProcess):
    """The first was not recorded, so that its id and its place in the log come again."""
    assert isinstance(trial.run(GOOD + note("break"), NOW, "live", compare=3), Broke)
    assert isinstance(trial.run(GOOD + note("fine"), NOW, "live", compare=3), Ran)
