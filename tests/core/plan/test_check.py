"""What does not fit together in a plan is named: what, where, by how much, and what to do."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.check import build_plan, check_plan, examine_tables
from tests.problems import about, assert_problem, the_only
from tests.scenario import SORTIE, lanes, plan_of, suit, task

HEAD = f"[sortie]\n{SORTIE}\n"
OXYGEN = {"loaded": 0.5}
CREW = lanes({"EV1": "A", "EV2": "B"}, ("ARM", "arm")) + suit("A", oxygen=OXYGEN) + suit("B", oxygen=OXYGEN)
SORTIE_AND_CREW = HEAD + CREW


def problems_of(text: str, head: str = SORTIE_AND_CREW) -> list[Problem]:
    """What is wrong with a plan of two crew members in suits, and the arm."""
    return check_plan(plan_of(head + text))


def test_a_sound_plan_has_no_problem() -> None:
    """Joint work, order with a lag, a contingency, an open ending and a check: nothing to complain of."""
    text = (
        task("A", "EV1", 0, 30, worksite="mast")
        + task("B", "EV1 EV2", 35, [20, 30, 50], follows=[{"task": "A", "lag": 5}], needs=["daylight"])
        + task("C", "ARM", 0, 65, can_move_to=["EV1"])
        + task("D", "EV2", 70, 20, after=["A"])
        + task("E", "EV2", 70, 40)
        + task("G", "EV1", None, 15, get_ahead=True)
        + '[[worksite]]\nid = "mast"\n[[window]]\nkind = "daylight"\nfrom = "0:30"\nto = "1:10"\n'
        + '[[alternative]]\nid = "ending"\ndefault = "short"\n[alternative.options]\nshort = ["D"]\nlong = ["E"]\n'
        + '[[contingency]]\nid = "leak"\nhold = ["A"]\n[[contingency.task]]\nid = "K"\nlanes = ["EV1"]\nduration = 5\n'
        + '[[check]]\nid = "suit-read"\nevery = 30\nlanes = ["EV1", "EV2"]\n'
    )
    assert problems_of(text) == []


# --- names ----------------------------------------------------------------------------------------


def test_a_task_name_is_used_once_contingencies_included() -> None:
    """A contingency's task may not carry the name of a briefed task."""
    text = task("A", "EV1", 0, 30) + (
        '[[contingency]]\nid = "leak"\n[[contingency.task]]\nid = "A"\nlanes = ["EV1"]\nduration = 5\n'
    )
    assert_problem(
        the_only(problems_of(text)), subject="task A", expected="each task name once",
        found="'A' a second time (first as task number 1)", cure="Rename", where="task A, key 'id'",
    )


@pytest.mark.parametrize(
    ("kind", "tables"),
    [
        ("lane", '[[lane]]\nid = "ARM"\nkind = "other"\n'),
        ("suit", '[[suit]]\nid = "A"\noxygen = { loaded = 1 }\n'),
        ("worksite", '[[worksite]]\nid = "mast"\n[[worksite]]\nid = "mast"\n'),
        ("contingency", '[[contingency]]\nid = "leak"\n[[contingency]]\nid = "leak"\n'),
        ("check", '[[check]]\nid = "c"\nevery = 9\nlanes = ["EV1"]\n' * 2),
        ("alternative", '[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = [] }\n' * 2),
    ],
)
def test_every_kind_of_name_is_used_once(kind: str, tables: str) -> None:
    """Two tables of one kind may not share a name."""
    problem = about(problems_of(task("A", "EV1", 0, 30) + tables), f"{kind} ")
    assert_problem(problem, subject=kind, expected=f"each {kind} name once", found="a second time", cure="Rename")


@pytest.mark.parametrize(
    ("more", "key", "kind", "wrong", "near"),
    [
        ({"lanes": "EV11"}, "lanes", "lane", "EV11", "Did you mean 'EV1'?"),
        ({"can_move_to": ["EV22"]}, "can_move_to", "lane", "EV22", "Did you mean 'EV2'?"),
        ({"worksite": "mats"}, "worksite", "worksite", "mats", "Did you mean 'mast'?"),
        ({"after": ["T07"]}, "after", "task", "T07", "Did you mean 'T070'?"),
        ({"follows": [{"task": "T700", "lag": 5}]}, "follows", "task", "T700", "Did you mean 'T070'?"),
        ({"needs": ["daylite"]}, "needs", "kind of window", "daylite", "Did you mean 'daylight'?"),
    ],
)
def test_an_unknown_name_in_a_task_is_named_with_the_nearest(
    more: dict[str, object], key: str, kind: str, wrong: str, near: str
) -> None:
    """Each key of a task that names something names something of the plan."""
    lanes = str(more.pop("lanes", "EV1"))
    text = task("T070", "EV2", 0, 30) + task("T080", lanes, 40, 30, **more)
    text += '[[worksite]]\nid = "mast"\n[[window]]\nkind = "daylight"\nfrom = 0\nto = 300\n'
    assert_problem(
        the_only(problems_of(text)), subject=f"task T080, key '{key}'", expected=f"the name of a known {kind}",
        found=f"'{wrong}'", cure=near, where=f"task T080, key '{key}'",
    )


def test_a_kind_of_window_that_the_plan_does_not_have_is_named() -> None:
    """A task that needs daylight in a plan without windows can never be done."""
    problem = the_only(problems_of(task("A", "EV1", 0, 30, needs=["daylight"])))
    assert_problem(problem, subject="task A, key 'needs'", expected="kind of window", found="'daylight'",
                   cure="Add [[window]]")


@pytest.mark.parametrize(
    ("tables", "subject", "wrong"),
    [
        ('[[contingency]]\nid = "leak"\nhold = ["T80"]\n', "contingency leak, key 'hold'", "'T80'"),
        ('[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = ["T81"] }\n', "alternative e, key 'options'",
         "'T81'"),
        ('[[check]]\nid = "c"\nevery = 9\nlanes = ["EV9"]\n', "check c, key 'lanes'", "'EV9'"),
        ('[[lane]]\nid = "EV3"\nkind = "crew"\nsuit = "AA"\n', "lane EV3, key 'suit'", "'AA'"),
    ],
)
def test_an_unknown_name_in_any_other_table_is_named(tables: str, subject: str, wrong: str) -> None:
    """Contingencies, alternatives, checks and lanes name what the plan knows."""
    problem = the_only(problems_of(task("T080", "EV1", 0, 30) + tables))
    assert_problem(problem, subject=subject, expected="the name of a known", found=wrong, cure="Did you mean")


def test_a_briefed_task_cannot_come_after_a_task_that_may_never_be_there() -> None:
    """`after` names a briefed task; a contingency's task is in the plan only if inserted."""
    text = task("A", "EV1", 0, 30, after=["K"]) + (
        '[[contingency]]\nid = "leak"\n[[contingency.task]]\nid = "K"\nlanes = ["EV1"]\nduration = 5\n'
    )
    assert_problem(the_only(problems_of(text)), subject="task A, key 'after'", expected="a briefed task",
                   found="'K', a task of a contingency", cure="whatever happens")


# --- order ----------------------------------------------------------------------------------------


def test_a_circle_of_after_and_follows_is_told_in_order() -> None:
    """A before B before C before A cannot be done in any order."""
    text = (
        task("A", "EV1", None, 5, get_ahead=True, after=["C"])
        + task("B", "EV1", None, 5, get_ahead=True, follows=["A"])
        + task("C", "EV1", None, 5, get_ahead=True, after=["B"])
        + task("D", "EV1", None, 5, get_ahead=True, after=["C"])
    )
    assert_problem(the_only(problems_of(text)), subject="task A", expected="without a circle",
                   found="A -> B -> C -> A", cure="Take one of these links out", where="task A, key 'after'")


def test_a_task_after_itself_is_a_circle() -> None:
    """The shortest circle there is."""
    problem = the_only(problems_of(task("A", "EV1", 0, 5, after=["A"])))
    assert_problem(problem, subject="task A", expected="without a circle", found="A -> A", cure="Take one")


def test_two_circles_are_two_problems() -> None:
    """Circles that share no task are each told."""
    text = "".join(
        task(one, "EV1", None, 5, get_ahead=True, after=[other]) for one, other in ("AB", "BA", "XY", "YX")
    )
    assert [p.found.split(" (")[0] for p in problems_of(text)] == ["A -> B -> A", "X -> Y -> X"]


@given(st.permutations(list(range(60))))
def test_a_long_chain_is_no_circle(order: list[int]) -> None:
    """An order that can be worked is never called a circle, however it stands in the file."""
    text = "".join(
        task(f"T{n}", "EV1", None, 1, get_ahead=True, **({"after": [f"T{n - 1}"]} if n else {})) for n in order
    )
    assert problems_of(text) == []


def test_a_start_before_the_end_of_what_it_comes_after_is_an_error() -> None:
    """The order contradicts the briefed times, by these minutes."""
    text = task("A", "EV1", 0, 30) + task("B", "EV2", "0:20", 30, after=["A"])
    assert_problem(
        the_only(problems_of(text)), subject="task B", expected="PET 0:30 or later: 'after' puts it behind task A",
        found="PET 0:20, 10 min too early", cure="Start it later", where="task B, key 'start'",
    )


def test_a_lag_counts_in_the_order() -> None:
    """Five minutes after the end are not twelve."""
    text = task("A", "EV1", 0, 30) + task("B", "EV2", 35, 30, follows=[{"task": "A", "lag": 12}])
    assert_problem(the_only(problems_of(text)), subject="task B", expected="PET 0:42 or later",
                   found="7 min too early", cure="take 'follows' out")


# --- lanes and suits ------------------------------------------------------------------------------


def test_two_tasks_at_once_in_a_lane_are_named_with_the_overlap() -> None:
    """Which tasks, in which lane, by how many minutes."""
    text = task("A", "EV1", 0, [20, 30, 90]) + task("B", "EV1", 22.5, 30)
    assert_problem(
        the_only(problems_of(text)), subject="task B in lane EV1", expected="when task A is over (PET 0:30)",
        found="overlap by 7.5 min", cure="Move one of them", where="task B, key 'start'",
    )


def test_an_overlap_of_joint_tasks_is_told_once_with_both_lanes() -> None:
    """One pair of tasks, one problem."""
    text = task("A", "EV1 EV2", 0, 30) + task("B", "EV1 EV2", 20, 30)
    assert_problem(the_only(problems_of(text)), subject="lanes EV1, EV2", expected="task A is over",
                   found="overlap by 10 min", cure="Move")


def test_a_short_task_inside_a_long_one_overlaps_by_its_whole_length() -> None:
    """Every pair counts, not only neighbours in the list."""
    text = task("A", "EV1", 0, 100) + task("B", "EV1", 10, 5) + task("C", "EV1", 50, 5)
    assert [p.found.split(": ")[1] for p in problems_of(text)] == ["they overlap by 5 min"] * 2


def test_back_to_back_is_no_overlap() -> None:
    """One ends as the other begins."""
    assert problems_of(task("A", "EV1", 0, 30) + task("B", "EV1", 30, 30)) == []


def test_tasks_of_different_options_may_overlap_and_those_of_one_may_not() -> None:
    """Only one option is ever taken."""
    text = task("A", "EV1", 0, 30) + task("B", "EV1", 10, 30) + task("C", "EV1", 20, 30)
    text += '[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = ["A"], y = ["B", "C"] }\n'
    assert_problem(the_only(problems_of(text)), subject="task C in lane EV1", expected="task B is over",
                   found="overlap by 20 min", cure="Move")


def test_an_ending_that_takes_longer_than_the_default_can_be_briefed() -> None:
    """What it pushes back is a note, not an error; without the option in hand it would be an error."""
    text = task("A", "EV1", 0, 20) + task("B", "EV1", 0, 50) + task("C", "EV1", 20, 30, after=["B"])
    end = '[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = ["A"], y = ["B"] }\n'
    found = problems_of(text + end)
    assert [(p.code, p.severity) for p in found] == [("overlap", "note"), ("start-against-link", "note")]
    assert_problem(found[0], subject="task C in lane EV1", expected="task B is over", found="overlap by 30 min",
                   cure="only if option 'y' of e is taken", severity="note")
    as_default = problems_of(text + end.replace('"x"\n', '"y"\n'))
    assert {(p.code, p.severity) for p in as_default} == {("overlap", "error"), ("start-against-link", "error")}


def test_two_crew_members_cannot_wear_one_suit() -> None:
    """Each crew lane has a suit of its own."""
    head = HEAD + CREW.replace('suit = "B"', 'suit = "A"')
    problem = about(problems_of(task("A", "EV1", 0, 30), head), "lane EV2")
    assert_problem(problem, subject="lane EV2, key 'suit'", expected="a suit for each crew member",
                   found="suit 'A', which lane EV1 already wears", cure="another suit")


def test_a_crew_lane_without_a_suit_is_pointed_out() -> None:
    """It can be followed, but has no suit budget."""
    head = HEAD + CREW.replace('suit = "B"\n', "")
    problem = about(problems_of(task("A", "EV1", 0, 30), head), "lane EV2")
    assert_problem(problem, subject="lane EV2", expected="the suit", found="none", cure="no suit budget",
                   severity="caution")


def test_the_arm_wears_no_suit() -> None:
    """A suit belongs to a crew lane."""
    head = HEAD + CREW.replace('kind = "arm"', 'kind = "arm"\nsuit = "A"')
    problem = the_only(problems_of(task("A", "EV1", 0, 30), head))
    assert_problem(problem, subject="lane ARM, key 'suit'", expected="no suit for a lane of kind 'arm'",
                   found="suit 'A'", cure="Take the key out")


def test_a_plan_has_a_crew_lane() -> None:
    """The end of the sortie is the latest finish over the crew lanes."""
    problem = the_only(problems_of(task("A", "ARM", 0, 30), HEAD + lanes({}, ("ARM", "arm"))))
    assert_problem(problem, subject="the lanes", expected="at least one lane of kind 'crew'", found="none", cure="crew")


# --- times ----------------------------------------------------------------------------------------


def test_a_task_without_a_start_must_say_why() -> None:
    """Only get-aheads, contingencies and options not taken by default go without a briefed start."""
    text = task("A", "EV1", None, 30) + task("B", "EV2", None, 30)
    text += '[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = [], y = ["B"] }\n'
    assert_problem(the_only(problems_of(text)), subject="task A, key 'start'", expected="a briefed start",
                   found="none", cure="get_ahead = true")


def test_a_get_ahead_with_a_start_is_pointed_out() -> None:
    """A get-ahead is done only with time in hand."""
    problem = the_only(problems_of(task("A", "EV1", 30, 30, get_ahead=True)))
    assert_problem(problem, subject="task A, key 'start'", expected="no start for a get-ahead", found="PET 0:30",
                   cure="Take the key out", severity="caution")


def test_a_task_of_a_contingency_has_no_start() -> None:
    """It begins when the contingency is inserted."""
    text = task("A", "EV1", 0, 30) + (
        '[[contingency]]\nid = "leak"\n[[contingency.task]]\nid = "K"\nlanes = ["EV1"]\nduration = 5\nstart = 50\n'
    )
    assert_problem(the_only(problems_of(text)), subject="task K, key 'start'", expected="no start",
                   found="PET 0:50", cure="Take the key out")


def test_a_start_before_not_before_is_pointed_out() -> None:
    """By how many minutes it is too early."""
    problem = the_only(problems_of(task("A", "EV1", 30, 30, not_before="0:45")))
    assert_problem(problem, subject="task A", expected="PET 0:45 or later", found="15 min too early",
                   cure="Start it later", severity="caution")


def test_a_task_that_no_window_holds_is_pointed_out() -> None:
    """It must lie wholly inside one window, not across two."""
    windows = "".join(f'[[window]]\nkind = "link"\nfrom = {a}\nto = {b}\n' for a, b in ((0, 40), (45, 90)))
    problem = the_only(problems_of(task("A", "EV1", 30, 30, needs=["link"]) + windows))
    assert_problem(problem, subject="task A", expected="inside one window of kind 'link'",
                   found="PET 0:30 to PET 1:00; windows: PET 0:00 to PET 0:40, PET 0:45 to PET 1:30",
                   cure="Move the task", severity="caution")


def test_an_end_past_the_limit_is_an_error_and_past_the_reserve_a_warning() -> None:
    """Limit 7:00 with 30 minutes that the plan must not use."""
    past = the_only(problems_of(task("A", "EV1", 0, 30) + task("B", "EV2", "6:45", 20)))
    assert_problem(past, subject="task B", expected="by the limit (PET 7:00)", found="PET 7:05, 5 min past it",
                   cure="Take work out")
    reserve = the_only(problems_of(task("B", "EV2", "6:30", 20)))
    assert_problem(reserve, subject="task B", expected="by the limit less reserve (PET 6:30)",
                   found="20 min past it", cure="Take work out", severity="caution")


def test_a_plan_that_ends_past_its_limit_can_be_followed_all_the_same() -> None:
    """The room that flies it needs the advice; an error beside it refuses it as ever."""
    late = SORTIE_AND_CREW + task("B", "EV2", "6:45", 20)
    plan, findings = examine_tables(tomllib.loads(late))
    assert plan is not None and plan.tasks[0].id == "B"
    assert [finding.problem.severity for finding in findings] == ["error"]
    assert examine_tables(tomllib.loads(late + task("B", "EV1", 0, 20)))[0] is None


def test_the_arm_may_work_past_the_limit() -> None:
    """The limit is that of the crew."""
    assert problems_of(task("A", "ARM", "6:45", 60)) == []


def test_an_option_not_taken_by_default_past_the_limit_is_pointed_out() -> None:
    """The briefed plan holds; the other ending would not."""
    text = task("A", "EV1", 0, 30) + task("B", "EV1", "6:45", 60)
    text += '[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = ["A"], y = ["B"] }\n'
    assert_problem(the_only(problems_of(text)), subject="with option 'y' of alternative e",
                   expected="by the limit", found="45 min past it",
                   cure="Take work out", severity="caution")


def test_the_reserve_is_less_than_the_limit() -> None:
    """Otherwise nothing may be done at all."""
    head = SORTIE_AND_CREW.replace("reserve = 30", "reserve = 420")
    assert_problem(the_only(problems_of(task("A", "EV1", 0, 30), head)), subject="key 'reserve'",
                   expected="less than the limit (420 min)", found="420 min", cure="smaller reserve")


# --- what a task says about itself ----------------------------------------------------------------


def test_a_very_long_duration_is_pointed_out() -> None:
    """Thirteen hours are more likely seconds than minutes."""
    problem = the_only(problems_of(task("A", "EV1", 0, [10, 20, 780])))
    assert_problem(problem, subject="task A, key 'duration'", expected="at most 720 min", found="780 min",
                   cure="Check the unit", severity="caution")


def test_a_required_task_with_a_shortest_length_is_pointed_out() -> None:
    """A required task is never trimmed."""
    problem = the_only(problems_of(task("A", "EV1", 0, 30, required=True, shortest=20)))
    assert_problem(problem, subject="task A, key 'shortest'", expected="no 'shortest' for a required task",
                   found="20 min", cure="never trimmed", severity="caution")


def test_a_required_task_of_an_option_not_taken_by_default_is_pointed_out() -> None:
    """It cannot be required and absent."""
    text = task("A", "EV1", 0, 30) + task("B", "EV1", None, 30, required=True)
    text += '[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = ["A"], y = ["B"] }\n'
    assert_problem(the_only(problems_of(text)), subject="task B, key 'required'", expected="whatever happens",
                   found="option 'y' of alternative e", cure="default", severity="caution")


# --- fields and cross-checks together -------------------------------------------------------------


def test_wrong_fields_do_not_hide_what_else_does_not_fit() -> None:
    """A wrong duration in one task, an unknown lane in another: both are told in one go, and only those."""
    text = SORTIE_AND_CREW + task("A", "EV1", 0, "long") + task("B", "EV4", 30, 30, after=["A"])
    plan, findings = examine_tables(tomllib.loads(text))
    assert plan is None
    assert {(f.problem.subject, f.place[:3]) for f in findings} == {
        ("task A, key 'duration'", ("task", 0, "duration")), ("task B, key 'lanes'", ("task", 1, "lanes")),
    }


def test_building_a_plan_refuses_errors_and_lets_warnings_pass() -> None:
    """A warning is worth a look; it does not stop the sortie."""
    warned = build_plan(tomllib.loads(SORTIE_AND_CREW + task("A", "EV1", 30, 30, not_before=45)))
    assert warned.tasks[0].start == 30
    with pytest.raises(InputError) as refused:
        build_plan(tomllib.loads(SORTIE_AND_CREW + task("A", "EV4", 30, 30)))
    assert_problem(the_only(refused.value.problems), subject="task A", expected="lane", found="'EV4'", cure="EV")


SITES = '[[worksite]]\nid = "boom"\nreturn = 14\n[[worksite]]\nid = "mast"\n'


def route(start: str, end: str, minutes: object = 6) -> str:
    """One ``[[route]]`` table."""
    return f'[[route]]\nfrom = "{start}"\nto = "{end}"\nduration = {minutes}\n'


def test_a_leg_and_a_route_between_known_worksites_are_sound() -> None:
    """A route holds either way; a leg names where it goes."""
    text = SITES + route("boom", "mast", [4, 6, 9]) + task("A", "EV1", 0, 6, leg="mast") + task("B", "EV1", 6, 30, boxed=True)
    assert problems_of(text) == []


@pytest.mark.parametrize(
    ("text", "where", "found"),
    [
        (task("A", "EV1", 0, 6, leg="moon"), "leg", "'moon'"),
        (route("boom", "moon") + task("A", "EV1", 0, 6), "to", "'moon'"),
        (task("A", "EV1", 0, 6, obliges=["B"]), "obliges", "'B'"),
        (task("A", "EV1", 0, 6, serves=["B"]), "serves", "'B'"),
    ],
)
def test_a_name_that_is_not_there_is_named(text: str, where: str, found: str) -> None:
    """Legs, routes and the links of sense name what exists."""
    problem = the_only(problems_of(SITES + text))
    assert f"'{where}'" in problem.subject and problem.found == found


def test_a_second_route_between_two_worksites_is_an_error() -> None:
    """It would be unclear which of the two lengths counts."""
    problem = the_only(problems_of(SITES + route("boom", "mast") + route("mast", "boom", 9) + task("A", "EV1", 0, 6)))
    assert problem.severity == "error" and "route 1" in problem.found


def test_a_leg_cannot_be_a_boxed_stop() -> None:
    """A leg takes as long as the way."""
    problem = the_only(problems_of(SITES + task("A", "EV1", 0, 6, leg="mast", boxed=True)))
    assert problem.severity == "error" and "'boxed'" in problem.subject


def test_a_word_that_binds_nothing_is_warned_of() -> None:
    """`together` in one task alone has no effect."""
    problem = the_only(problems_of(task("A", "EV1", 0, 6, together="dish")))
    assert problem.severity == "caution" and "'dish'" in problem.expected


def test_a_leave_by_time_after_the_last_way_back_is_warned_of() -> None:
    """From there the crew could not be in by the limit less reserve, PET 6:30."""
    late = SITES.replace("return = 14", 'return = 14\nleave_by = "6:20"')
    problem = the_only(problems_of(late + task("A", "EV1", 0, 6)))
    assert problem.severity == "caution" and "PET 6:20" in problem.found and "14 min" in problem.expected


def test_a_task_does_not_oblige_itself() -> None:
    """A field that names its own task is refused at its place."""
    plan, findings = examine_tables(tomllib.loads(SORTIE_AND_CREW + task("A", "EV1", 0, 6, obliges=["A"])))
    assert plan is None and "obliges" in the_only([one.problem for one in findings]).subject
