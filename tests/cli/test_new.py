"""`tetherline new`: a plan from a sheet, a carry-over, a run or a few questions, checked at the end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dashboard.log.planfile import load_plan
from tests.command import LOG, assert_bad_input, one_line, tetherline

SORTIE = ("--start", "2031-05-01T08:00:00Z", "--limit", "6:30")


def test_from_a_sheet_of_tasks(tmp_path: Path):
    """Lanes by their names, worksites as the tasks name them; the report says so, and the check follows."""
    sheet = tmp_path / "rev-c.csv"
    sheet.write_text("No;Task;Crew;Start;Dur;Where\nA1;Out;EV1, EV2;0:00;1h30;mast\nA2;Grapple;ARM;0:20;10 min;\n")
    done = tetherline("new", tmp_path / "next.toml", "--from", sheet, *SORTIE, "--title", "Next")
    said = one_line(done.stdout)
    assert done.returncode == 0, done.stderr
    assert "Read 2 tasks from rev-c.csv" in said and "EV1 crew, EV2 crew, ARM arm" in said
    assert "Set 'return', the minutes to the airlock" in said and "likely in by the limit" in said and "page /plan" in said
    plan = load_plan(tmp_path / "next.toml")
    assert (plan.sortie.id, plan.sortie.title, plan.sortie.limit) == ("next", "Next", 390)
    assert [(lane.id, lane.kind) for lane in plan.lanes] == [("EV1", "crew"), ("EV2", "crew"), ("ARM", "arm")]
    assert plan.all_tasks()["A1"].likely_min == 90 and plan.worksites[0].id == "mast"


def test_from_a_sheet_with_the_rest_of_another_plan(tmp_path: Path, plan: Path):
    """Lanes and suits of that plan, start and name as given."""
    sheet = tmp_path / "tasks.csv"
    sheet.write_text("id,lanes,start,duration\nT1,EV1,0:00,30\n")
    new = tmp_path / "next.toml"
    assert tetherline("new", new, "--from", sheet, "--with", plan, "--id", "next", *SORTIE).returncode == 0
    made, old = load_plan(new), load_plan(plan)
    assert (made.suits, made.lanes, made.sortie.id) == (old.suits, old.lanes, "next")


def test_from_a_recorded_run(sortie: Path, plan: Path, log: Path):
    """Its plan with its comments, and with what was added in the run."""
    plan.write_text("# ours\n" + plan.read_text())
    added = '{"id": "T900", "title": "Free the strap", "lanes": ["EV1"], "duration": 10}'
    log.write_text(LOG + f'{{"id": "a1", "at": "2031-04-12T09:50:00Z", "kind": "add", "task": {added}}}\n')
    new = sortie / "next.toml"
    done = tetherline("new", new, "--run", log, "--id", "next")
    assert done.returncode == 0, done.stderr
    assert "T900 Free the strap was added in the run, and is a get-ahead here." in one_line(done.stdout)
    assert new.read_text().startswith("# ours\n") and "T900" in load_plan(new, None).all_tasks()


def test_from_a_carry_over(sortie: Path, log: Path):
    """What the run left, with the head that says what it is."""
    new = sortie / "next.toml"
    assert_bad_input(tetherline("new", new, "--carry-over", log), "one without an end")
    log.write_text(LOG + '{"id": "e6", "at": "2031-04-12T10:12:00Z", "kind": "end"}\n')
    done = tetherline("new", new, "--carry-over", log, *SORTIE, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert "carried over from Pool run 3" in told["said"][0] and told["written"] == str(new)
    made = load_plan(new)
    assert "T010" not in made.all_tasks() and made.sortie.limit == 390
    assert new.read_text().startswith("# Carry-over of sortie")


def test_from_options_alone(tmp_path: Path):
    """Tasks begin as soon as their lanes are free; without tasks there are two stand-ins."""
    new = tmp_path / "next.toml"
    tasks = ("--task", "Out; EV1 EV2; 12/15/20", "--task", "Carry; EV1; 1h; mast", "--task", "Wire; EV2; 0:20")
    assert tetherline("new", new, *SORTIE, *tasks, "--arm", "ARM").returncode == 0
    made = load_plan(new)
    assert [(task.id, task.title, task.start) for task in made.tasks] == [
        ("T010", "Out", 0), ("T020", "Carry", 15), ("T030", "Wire", 15),
    ]
    assert made.lane_ids() == ("EV1", "EV2", "ARM")
    assert tetherline("new", new, *SORTIE, "--force").returncode == 0
    assert all("stand-in" in task.title for task in load_plan(new).tasks)


def test_on_a_terminal_what_is_missing_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A wrong answer is asked again at once, so that no list of tasks is lost for it; an empty line ends the list."""
    monkeypatch.setattr("dashboard.cli.new._on_a_terminal", lambda: True)
    answers = (
        "Next sortie\nnext sortie\n\nsoon\n2031-05-01T08:00:00Z\n99:00\n\n\n\nARM\n"
        "Out; EV1 EV2; quick\nOut; EV1 EV3; 15\nOut; EV1 EV2; 15\nIn; EV1 EV2; 1000:00\n\n"
    )
    done = tetherline("new", tmp_path / "next.toml", stdin=answers)
    assert done.returncode == 0, done.stderr
    for said in ("a name without spaces", "an instant", "up to 24 hours", "minutes such as 40", "lanes of the plan; found 'EV3'"):
        assert said in done.stdout
    made = load_plan(tmp_path / "next.toml")
    assert (made.sortie.id, made.sortie.title, made.sortie.limit, made.sortie.reserve) == ("next", "Next sortie", 420, 30)
    assert made.lane_ids() == ("EV1", "EV2", "ARM") and [task.title for task in made.tasks] == ["Out"]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ((), "the planned PET zero (UTC)"),
        (("--start", "soon", "--limit", "7:00"), "an instant"),
        ((*SORTIE, "--task", "Out, EV1"), "'TITLE; LANES; MINUTES'"),
        ((*SORTIE, "--reserve", "much"), "minutes"),
        (("--run", "a", "--carry-over", "b"), "one of --from, --carry-over and --run"),
        (("--run", "no-run"), "no such file"),
    ],
)
def test_wrong_answers_are_bad_input(tmp_path: Path, given: tuple[str, ...], says: str):
    """Nothing is written."""
    assert_bad_input(tetherline("new", tmp_path / "next.toml", *given), says)
    assert list(tmp_path.iterdir()) == []


def test_an_existing_plan_is_never_replaced_unasked(plan: Path):
    """Only with --force; another ending is refused."""
    before = plan.read_text()
    assert_bad_input(tetherline("new", plan, *SORTIE), "one that exists", "--force")
    assert_bad_input(tetherline("new", plan.with_suffix(".csv"), *SORTIE), "a name that ends in .toml")
    assert plan.read_text() == before


def test_lanes_may_be_named_in_one_option_or_in_several(tmp_path: Path):
    """The second `--crew` adds a lane; it does not replace the first."""
    new = tmp_path / "next.toml"
    lanes = ("--crew", "EV1", "--crew", "EV2", "--arm", "ARM,HOIST")
    done = tetherline("new", new, *SORTIE, *lanes, "--task", "Out; EV1 EV2 ARM; 10")
    assert done.returncode == 0, done.stderr
    kinds = [(lane.id, lane.kind) for lane in load_plan(new).lanes]
    assert kinds == [("EV1", "crew"), ("EV2", "crew"), ("ARM", "arm"), ("HOIST", "arm")]


@pytest.mark.parametrize(
    ("content", "said"),
    [("id,lanes,start,duration\n", "at least one task"), ("id,Helper,start,duration\nA1,EV1,0:00,10\n", "--columns lanes=")],
)
def test_a_sheet_without_tasks_or_lanes_is_refused_in_its_own_words(tmp_path: Path, content: str, said: str):
    """Not with a word about a table that the sheet does not have."""
    sheet = tmp_path / "rev-c.csv"
    sheet.write_text(content)
    assert_bad_input(tetherline("new", tmp_path / "next.toml", "--from", sheet, *SORTIE), said)
