"""Rehearsal: the recorded decisions left out from a moment on, and the trainee's own in their place."""

from __future__ import annotations

from pathlib import Path

from dashboard.cli.show_run import branch_writer
from dashboard.core.base.times import parse_instant
from dashboard.core.state.follow import follow
from dashboard.service.session.rehearsal import RehearsalSession
from replay.branch import branched
from replay.recording import load_run
from tests.replay.runs import run_of
from tests.scenario import at, log_of

LOG = """
    0:00 clock
    0:00 start T010
    0:00 start T030
    0:30 done T010
    0:31 defer T020
    0:40 note text=calm
    0:50 reading A oxygen=0.5
    1:00 done T030
    1:10 reinstate T020
    1:12 start T020
    1:40 done T020
    1:41 start T040
    3:00 done T040
    3:01 end
"""
RUN = run_of(LOG, setting="pool", title="Pool run 3")
MOMENT = parse_instant(at("0:30"))


def own(text: str) -> list:
    return [e.model_copy(update={"id": f"own-{e.id}", "seq": 100 + e.seq}) for e in log_of(text)]


def why(branch) -> dict[str, str]:
    return {removed.event.id: removed.why for removed in branch.removed}


def test_without_own_decisions_the_recorded_ones_are_gone_and_the_work_stays():
    """What happened outside goes on happening."""
    branch = branched(RUN, MOMENT)
    assert why(branch) == {"e5": "a recorded decision", "e9": "a recorded decision"}
    assert [e.id for e in branch.run.events] == [
        "e1",
        "e2",
        "e3",
        "e4",
        "e6",
        "e7",
        "e8",
        "e10",
        "e11",
        "e12",
        "e13",
        "e14",
    ]


def test_a_branch_ends_with_its_crew_or_4_h_after_the_limit():
    """With the recorded end; with the last of the work, however late it is dated, and its close-out; else not before 11:00."""
    assert branched(RUN, MOMENT).last == parse_instant(at("3:01"))
    added = '0:45 add task={"id":"X","lanes":["EV1"],"duration":60,"closeout":6}\n3:05 start X\n'
    assert branched(RUN, MOMENT, own(added)).last == parse_instant(at("11:00"))
    done, broken = (branched(RUN, MOMENT, own(added + last)) for last in ("4:30 done X", "4:30 break_off X"))
    assert (done.last, broken.last) == (parse_instant(at("4:30")), parse_instant(at("4:36")))
    assert done.marks[-1] == parse_instant(at("4:30"))


def test_what_was_known_by_the_moment_stays_decisions_too():
    """The branch begins where the room stood."""
    branch = branched(RUN, parse_instant(at("0:35")))
    assert "e5" in {e.id for e in branch.run.events}
    assert why(branch)["e9"] == "a recorded decision"
    assert "T020 is out of the plan of record" in why(branch)["e10"]


def test_work_on_what_the_trainee_gave_up_is_removed_and_listed():
    """And so is what can only come after it, with the recorded end."""
    branch = branched(RUN, MOMENT, own("0:45 defer T020"))
    assert {"e10", "e11", "e12", "e13"} <= set(why(branch))
    assert "out of the plan of record" in why(branch)["e10"]
    assert "e8" not in why(branch)
    state = follow(branch.run.plan, branch.run.events, branch.run.last, draws=0)
    assert state.tasks["T020"].state == "deferred"
    assert state.discrepancies == []


def test_a_start_in_a_lane_that_the_trainee_keeps_busy_is_removed():
    """It does not fit the branch although it fitted the recording."""
    branch = branched(RUN, MOMENT, own('1:05 add {"id":"X1","lanes":["EV1"],"duration":30}\n1:06 start X1'))
    assert "expected lane EV1 free to start T020; found X1 still in work there" in why(branch)["e10"]


def test_the_end_goes_while_crew_work_is_left():
    """A sortie is not over because the recorded one was."""
    branch = branched(RUN, MOMENT, own('1:05 add {"id":"X1","lanes":["EV1"],"duration":30,"start":"2:50"}'))
    assert why(branch)["e14"] == "crew work is left: X1"


def test_a_discrepancy_of_the_recording_is_no_reason_to_leave_an_event_out():
    """What did not fit then is kept as it was."""
    run = run_of("0:00 clock\n0:00 start T030\n0:40 done T010\n1:00 done T030")
    assert [e.id for e in branched(run, MOMENT).run.events] == ["e1", "e2", "e3", "e4"]


def test_the_branch_is_kept_as_a_recording_that_names_its_parent(tmp_path: Path):
    """Saved at once and after every entry; it reads like any other run, with parent and moment in its header."""
    session = RehearsalSession(RUN, MOMENT, branch_writer(tmp_path / "b", RUN))
    assert len(load_run(tmp_path / "b").events) == 12
    outcome = session.enter(
        [{"id": "m1", "at": at("0:45"), "kind": "defer", "tasks": ["T020"]}], parse_instant(at("0:46"))
    )
    assert outcome[0].status == "recorded"
    known = {e.id for e in session.known_at(parse_instant(at("3:10"))).events}
    assert "m1" in known and not known & {"e5", "e10", "e12"}
    saved = load_run(tmp_path / "b")
    assert {e.id for e in saved.events} == known
    assert saved.rehearsal == "Rehearsal of Pool run 3 from PET 0:30, not a recorded run" and RUN.rehearsal == ""
    header = (tmp_path / "b" / "run.toml").read_text(encoding="utf-8")
    assert 'parent = "Pool run 3"' in header and f'from = "{at("0:30")}"' in header
    assert (saved.setting, saved.title) == ("pool", "Rehearsal of Pool run 3")
    session.close()


def test_a_rehearsal_of_a_branch_names_the_recorded_run_once(tmp_path: Path):
    """It is a rehearsal of the run that both go back to, and not that run from the earlier of the two moments on."""
    branch_writer(tmp_path / "b", RUN)(branched(RUN, MOMENT))
    first = load_run(tmp_path / "b")
    branch_writer(tmp_path / "c", first)(branched(first, parse_instant(at("1:00"))))
    second = load_run(tmp_path / "c")
    assert (second.title, second.parent) == ("Rehearsal of Pool run 3", "Pool run 3")
    assert second.rehearsal == "Rehearsal of Pool run 3 from PET 0:30, not a recorded run"
    assert at("1:00") in second.notes
