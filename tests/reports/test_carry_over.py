"""The carry-over as a plan file: it can be loaded, holds what is left and nothing else, and keeps comments."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.carry_over import carry_over, left_open
from dashboard.core.debrief.look_back import debrief
from dashboard.core.plan.check import examine_tables
from dashboard.core.record.fold import reconcile
from dashboard.reports.carry_over import carry_over_toml
from tests.core.state.test_properties import PLAN as ANY_PLAN
from tests.core.state.test_properties import logs
from tests.reports import facts as made
from tests.scenario import at, log_of, plan_of, task

COMMENTED = made.PLAN.replace('kind = "crew"\nsuit = "A"', 'kind = "crew"   # the lead\nsuit = "A"').replace(
    '[[task]]\nid = "T010"', '# --- out ---\n\n[[task]]\nid = "T010"', 1
).replace('title = "Carry the pump"', 'title = "Carry the pump"   # two hands').replace(
    "duration = [20, 30, 50]", "duration = [20, 30, 50]   # from the pool"
)  # fmt: skip


def loaded(text: str):
    plan, findings = examine_tables(tomllib.loads(text))
    assert plan is not None, [finding.problem.text() for finding in findings]
    return plan


def besides_suits(problems):
    """What is found, but for the lanes without a suit that these plans have."""
    return [problem.text() for problem in problems if "key 'suit'" not in problem.subject]


@pytest.mark.parametrize("plan_text", [None, COMMENTED], ids=["from the plan", "from its file"])
def test_it_is_a_plan_of_what_is_left(plan_text):
    """Broken off, deferred, and the get-ahead, in order; links to done tasks gone, links among what is left kept."""
    text, problems = carry_over_toml(made.ended(), made.plan(), plan_text)
    plan = loaded(text)
    assert besides_suits(problems) == []
    assert [task.id for task in plan.tasks] == ["T020", "T040", "T060"]
    by_name = {task.id: task for task in plan.tasks}
    assert by_name["T020"].after == () and by_name["T040"].after == ("T020",) and by_name["T060"].after == ()
    assert by_name["T020"].duration.likely == 7  # nine by the estimate, less two worked since
    assert (by_name["T020"].start, by_name["T040"].start, by_name["T060"].start) == (0, 7, None)
    assert plan.lanes == made.plan().lanes and plan.suits == made.plan().suits
    assert made.ended().caution in text and "T010, done on t" in text


def test_comments_of_the_old_plan_are_kept_where_they_still_hold():
    """Those of lanes and of unchanged keys stay; a comment on a value that changed, and a heading of tasks, go."""
    text, _ = carry_over_toml(made.ended(), made.plan(), COMMENTED)
    assert "# the lead" in text and "# two hands" in text
    assert "# from the pool" not in text and "# --- out ---" not in text


def test_nothing_left_gives_no_file():
    """A plan without tasks is none."""
    assert carry_over_toml(made.nothing(), made.plan()) is None


def test_contingency_and_added_tasks_that_are_not_done_are_carried_over():
    """They stand as tasks of the plan, with a start."""
    plan = plan_of(
        task("T010", "EV1", 0, 30)
        + '[[contingency]]\nid = "leak"\nhold = ["T010"]\n[[contingency.task]]\nid = "C1"\nlanes = ["EV1"]\nduration = 5\n'
    )
    log = log_of("""
        0:00 clock
        0:00 start T010
        0:10 insert leak
        0:10 add task={"id":"X","lanes":["EV2"],"duration":7}
        0:20 end
    """)
    text, problems = carry_over_toml(debrief(plan, log, parse_instant(at("0:20")), draws=0), plan)
    assert {task.id for task in loaded(text).tasks} == {"T010", "C1", "X"}
    assert besides_suits(problems) == []


def contingency(name: str, hold: str, step: str, after: str = "") -> str:
    links = f'after = ["{after}"]\n' if after else ""
    return (
        f'[[contingency]]\nid = "{name}"   # as trained\ntrigger = "{name} seen"\nhold = {hold.split()}\n'
        f'[[contingency.task]]\nid = "{step}"\nlanes = ["EV1"]\nduration = 5\n{links}'
    ).replace("'", '"')


PREPARED = (
    f"{made.HEAD}{made.LANES}"
    + task("T010", "EV1", 0, 30)
    + task("T020", "EV1", 40, 30, after=["T010"])
    + task("T030", "EV2", 80, 30)
    + task("T040", "EV2", 80, 20, after=["T010"])
    + task("T050", "EV2", 115, 15)
    + contingency("leak", "T010 T020", "C1", after="T010")
    + contingency("jam", "T020", "C2")
    + contingency("spill", "T010", "C3")
    + contingency("tear", "T020", "C4")
    + '[[alternative]]\nid = "ending"   # still open\ntitle = "Tray"\ndefault = "out"\n'
    + '[alternative.options]\nout = ["T030"]\nin = ["T040", "T050"]\n'
)
PREPARED_LOG = """
    0:00 clock
    0:00 start T010
    0:05 insert spill
    0:06 start C3
    0:11 done C3
    0:12 insert jam
    0:12 start C2
    0:17 done C2
    0:18 resume T010
    0:40 done T010
    0:41 insert tear
    0:45 end
"""


def carried(log: str, plan_text: str = PREPARED):
    """The next plan from a sortie of the plan with contingencies and an alternative; and its text."""
    plan = plan_of(plan_text)
    text, problems = carry_over_toml(debrief(plan, log_of(log), parse_instant(at("0:45")), draws=0), plan, plan_text)
    assert besides_suits(problems) == []
    return loaded(text), text


def test_contingencies_that_are_open_or_name_what_is_left_are_carried_over():
    """`leak` never came, `jam` came and names T020: both stay. `spill` is over, and the step of `tear` is itself left."""
    plan, text = carried(PREPARED_LOG)
    assert [one.id for one in plan.contingencies] == ["leak", "jam"]
    assert [one.hold for one in plan.contingencies] == [("T020",), ("T020",)]
    assert plan.contingencies[0].tasks[0].after == ()  # T010 is done
    assert "C4" in [one.id for one in plan.tasks]
    assert text.count("# as trained") == 2


@pytest.mark.parametrize(
    ("event", "default", "tasks"),
    [
        ("0:42 note x", "out", ["T020", "C4", "T030", "T040", "T050"]),
        ("0:42 choose ending option=in", "in", ["T020", "C4", "T040", "T050", "T030"]),
    ],
)
def test_an_alternative_of_which_nothing_was_begun_is_carried_over_with_all_its_tasks(event: str, default: str, tasks: list):
    """With the option in force as its default; the tasks of the other have no start."""
    plan, text = carried(PREPARED_LOG.replace("0:45 end", f"{event}\n    0:45 end"))
    (one,) = plan.alternatives
    assert (one.default, one.options) == (default, {"out": ("T030",), "in": ("T040", "T050")})
    assert sorted(task.id for task in plan.tasks) == sorted(tasks)
    unplaced = {task.id for task in plan.tasks if task.start is None}
    assert unplaced == ({"T040", "T050"} if default == "out" else {"T030"})
    assert "# still open" in text
    assert next(task for task in plan.tasks if task.id == "T040").after == ()  # T010 is done


def test_an_alternative_that_was_begun_is_settled():
    """What is left of the option taken stands as plain tasks."""
    log = PREPARED_LOG.replace("0:45 end", "0:41 choose ending option=in\n0:42 start T040\n0:44 done T040\n0:45 end")
    plan, _ = carried(log)
    assert plan.alternatives == ()
    assert "T050" in [task.id for task in plan.tasks] and "T030" not in [task.id for task in plan.tasks]


@pytest.mark.parametrize("given_as", [30, [30, 30, 30]], ids=["a single value", "a timed wait"])
def test_what_remains_of_a_task_without_range_gets_none(given_as):
    """20 of 30 min are left: still one value, or still timed."""
    plan = plan_of(task("T010", "EV1", 0, given_as, closeout=2))
    log = log_of("0:00 clock\n0:00 start T010\n0:10 break_off T010\n0:12 end")
    text, _ = carry_over_toml(debrief(plan, log, parse_instant(at("0:12")), draws=0), plan)
    left = loaded(text).tasks[0].duration
    assert left.low == left.likely == left.high < 30
    assert (left.exact, left.without_range) == (given_as != 30, given_as == 30)


@pytest.mark.parametrize(
    ("log", "remains", "shortest"),
    [
        ("0:18 break_off T050", 22, 7),
        ("0:30 break_off T050", 10, 1),
        ("0:10 estimate T050 remaining=12\n0:18 break_off T050", 4, 4),
        ("0:45 break_off T050", 40, 25),
    ],
    ids=["less the work done", "never below a minute", "never above what remains", "briefed length again"],
)
def test_the_shortest_useful_length_is_that_of_what_remains(log, remains, shortest):
    """Of 40 min, useful from 25 on, the work done is taken off both, and named; where nothing is known, off neither."""
    plan = plan_of(task("T050", "EV1", 0, 40, shortest=25, closeout=2))
    facts = debrief(plan, log_of(f"0:00 clock\n0:00 start T050\n{log}\n0:50 end"), parse_instant(at("0:50")), draws=0)
    text, _ = carry_over_toml(facts, plan)
    left = loaded(text).tasks[0]
    assert (left.duration.likely, left.shortest) == (remains, shortest)
    assert f"# worked on for {facts.carry_over[0].worked_min:.0f} min on t" in text


@pytest.mark.parametrize(
    ("event", "lanes", "can_move_to"),
    [
        ("0:30 note x", ("EV2",), ("EV1",)),
        ("0:30 move T040 lane=EV1", ("EV1",), ("EV2",)),
        ("0:30 move T040 lane=EV1\n0:31 move T040 lane=EV2", ("EV2",), ("EV1",)),
    ],
    ids=["never", "once", "there and back"],
)
def test_a_task_handed_over_keeps_its_way_back(event: str, lanes: tuple, can_move_to: tuple):
    """The next plan has it in its last lane, and it can go back to the one it was briefed in."""
    plan = plan_of(task("T040", "EV2", 0, 30, can_move_to=["EV1"]))
    facts = debrief(plan, log_of(f"0:00 clock\n{event}\n0:50 end"), parse_instant(at("0:50")), draws=0)
    text, _ = carry_over_toml(facts, plan)
    assert (loaded(text).tasks[0].lanes, loaded(text).tasks[0].can_move_to) == (lanes, can_move_to)


@settings(max_examples=30)
@given(log=logs(), pet=st.integers(0, 330))
def test_whatever_was_left_makes_a_plan_that_loads(log, pet):
    """However odd the log, the carry-over has no error; its tasks are those that are left, and those of open options."""
    now = parse_instant(at(pet))
    record = reconcile(ANY_PLAN, log, now)
    facts = made.nothing().model_copy(update={"carry_over": carry_over(record), "left_open": left_open(record)})
    left = carry_over_toml(facts, ANY_PLAN)
    if left is not None:
        assert [p.text() for p in left[1] if p.severity == "error"] == []
        plan, names = loaded(left[0]), [one.task for one in facts.carry_over]
        assert [task.id for task in plan.tasks][:len(names)] == names
        optional = {name for one in plan.alternatives for names in one.options.values() for name in names}
        assert {task.id for task in plan.tasks} <= {*names, *optional}
        assert [one.id for one in plan.contingencies] == facts.left_open.contingencies
        assert {one.id: one.default for one in plan.alternatives} == facts.left_open.alternatives


def test_the_carry_over_of_a_rehearsal_says_so():
    """In the first line of its header, and in the title that a board would show."""
    text, _ = carry_over_toml(made.rehearsed(), made.plan())
    assert text.startswith(f"# {made.REHEARSED}.\n") and loaded(text).sortie.title == "Carry-over of a rehearsal of Tray"
    assert "ehears" not in carry_over_toml(made.ended(), made.plan())[0]
