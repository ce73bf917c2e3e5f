"""Which runs of a library count, and which would count twice."""

from __future__ import annotations

from replay.independent_runs import independent_runs, left_out_in_words
from replay.library import BrokenRun
from replay.recording import recorded
from tests.replay.runs import PLAN, run_of
from tests.scenario import log_of

LOG = "0:00 clock\n0:01 start T010\n0:36 done T010"
OTHER = "0:00 clock\n0:01 start T010\n0:37 done T010"


def kept(*runs) -> list[str]:
    return [name for name, _ in independent_runs(runs).runs]


def test_a_rehearsal_is_left_out():
    """It has the recorded events up to its moment; its header says what it branches from."""
    runs = [("a", run_of(LOG, title="Pool run 3")), ("mine", run_of(LOG + "\n0:37 start T020", parent="Pool run 3"))]
    assert kept(*runs) == ["a"]
    assert left_out_in_words(independent_runs(runs).left_out) == ["1 rehearsal left out: mine (of 'Pool run 3')."]


def test_the_same_log_under_two_names_counts_once():
    """Whatever its events are called and whenever they came in; both names are said."""
    again = [e.model_copy(update={"id": f"x{e.id}", "seq": None, "received": e.at}) for e in log_of(LOG)]
    runs = [("a", run_of(LOG)), ("b", recorded(PLAN, again)), ("c", run_of(LOG))]
    assert kept(*runs) == ["a"]
    assert left_out_in_words(independent_runs(runs).left_out) == [
        "2 copies left out: b (the same log as a), c (the same log as a)."
    ]


def test_an_earlier_copy_of_a_log_is_left_out():
    """The longer one stays, whichever comes first."""
    runs = [("a", run_of("0:00 clock\n0:01 start T010")), ("b", run_of(LOG))]
    assert kept(*runs) == kept(*reversed(runs)) == ["b"]
    assert left_out_in_words(independent_runs(runs).left_out) == ["1 copy left out: a (part of the log of b)."]


def test_runs_with_the_same_ids_are_not_the_same_run():
    """Sheets number their rows; what the rows say decides. Broken runs stay to be named."""
    assert kept(("a", run_of(LOG)), ("b", run_of(OTHER)), ("c", BrokenRun("c", "no plan"))) == ["a", "b", "c"]
