"""From plain tables to a plan: every wrong value is named at its place, and the rest is examined all the same."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from dashboard.core.plan.fields import key_place, read_tables, split_place, subject_of, value_at
from tests.problems import assert_problem, the_only
from tests.scenario import LANES, SORTIE, task

SOUND = f"[sortie]\n{SORTIE}\n{LANES}" + task("T010", "EV1", 0, 30) + task("T020", "EV2", 10, [20, 30, 50])


def tables_of(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


def test_sound_tables_are_a_plan():
    """Nothing is found and nothing is taken out."""
    plan, findings, taken_out = read_tables(tables_of(SOUND))
    assert plan is not None and [one.id for one in plan.tasks] == ["T010", "T020"]
    assert (findings, taken_out) == ([], set())


@pytest.mark.parametrize(
    ("right", "wrong", "place", "expected", "found"),
    [
        ("duration = 30", 'duration = "long"', ("task", 0, "duration"), "minutes", "'long'"),
        (
            "duration = 30",
            "duration = [3, 2, 1]",
            ("task", 0, "duration"),
            "low <= likely <= high",
            "3, 2, 1",
        ),
        ("duration = 30", "duration = [1, 2]", ("task", 0, "duration"), "three values", "2"),
        ("start = 0", "start = -1", ("task", 0, "start"), "0 or more", "-1"),
        ('lanes = ["EV1"]', "lanes = []", ("task", 0, "lanes"), "at least 1 in the list", "[]"),
        ('lanes = ["EV1"]', 'lanes = ["EV1", "EV1"]', ("task", 0, "lanes"), "each lane once", "EV1"),
        ('kind = "arm"', 'kind = "crane"', ("lane", 2, "kind"), "'crew', 'arm' or 'other'", "'crane'"),
        ("reserve = 30", "reserve = true", ("sortie", "reserve"), "minutes", "True"),
        ("start = 2031-04-12T09:10:00Z", 'start = "noon"', ("sortie", "start"), "an instant", "noon"),
    ],
)
def test_a_wrong_value_is_named_and_taken_out(
    right: str, wrong: str, place: tuple[str | int, ...], expected: str, found: str
):
    """Its place, what was expected and what was found; the key is no longer among what is examined further."""
    _, findings, taken_out = read_tables(tables_of(SOUND.replace(right, wrong, 1)))
    (finding,) = findings
    assert finding.place == place and key_place(place) in taken_out
    assert expected in finding.problem.expected and found in finding.problem.found
    assert finding.problem.cure


def test_all_wrong_values_are_named_at_once():
    """One in each of three tables: three findings, and a plan of the rest."""
    text = SOUND.replace("duration = 30", 'duration = "long"', 1).replace('kind = "arm"', 'kind = "crane"')
    plan, findings, _ = read_tables(tables_of(text.replace("reserve = 30", 'reserve = "much"')))
    assert {finding.place for finding in findings} == {
        ("task", 0, "duration"),
        ("lane", 2, "kind"),
        ("sortie", "reserve"),
    }
    assert plan is not None and len(plan.tasks) == 2


def test_an_unknown_key_is_named_with_the_nearest():
    """It is left out of the plan, which is sound otherwise."""
    plan, findings, taken_out = read_tables(tables_of(SOUND + "durration = 4\n"))
    problem = the_only(finding.problem for finding in findings)
    assert_problem(
        problem,
        subject="task T020",
        expected="a key of 'task'",
        found="'durration'",
        cure="Did you mean 'duration'?",
    )
    assert plan is not None and taken_out == set()


@pytest.mark.parametrize(
    ("missing", "header"), [("task", "[[task]]"), ("lane", "[[lane]]"), ("sortie", "[sortie]")]
)
def test_a_missing_table_is_named(missing: str, header: str):
    """With what to add; there is no plan without it."""
    plan, findings, _ = read_tables({key: value for key, value in tables_of(SOUND).items() if key != missing})
    assert plan is None
    assert_problem(
        the_only(f.problem for f in findings),
        subject="the plan",
        expected=header,
        found="none",
        cure=f"Add {header}",
    )


def test_a_missing_value_is_named():
    """By its key, in the table that lacks it."""
    _, findings, _ = read_tables(tables_of(SOUND.replace("duration = 30\n", "", 1)))
    problem = the_only(finding.problem for finding in findings)
    assert_problem(
        problem, subject="task T010", expected="a value for 'duration'", found="none", cure="Add it."
    )


def test_a_place_leads_to_its_value():
    """Through lists and tables; None where the place does not exist."""
    tables = tables_of(SOUND)
    assert value_at(tables, ("task", 1, "id")) == "T020"
    assert value_at(tables, ("task", 7, "id")) is None
    assert value_at(tables, ("task", 0, "id", "more")) is None
    assert value_at(tables, ()) == tables


@pytest.mark.parametrize(
    ("place", "item", "below", "subject"),
    [
        (("task", 0, "duration"), ("task", 0), ("duration",), "task T010, key 'duration'"),
        (
            ("task", 0, "follows", 1, "lag"),
            ("task", 0),
            ("follows", 1, "lag"),
            "task T010, key 'follows.lag'",
        ),
        (
            ("contingency", 0, "task", 1, "id"),
            ("contingency", 0, "task", 1),
            ("id",),
            "contingency number 1, task number 2, key 'id'",
        ),
        (("sortie", "limit"), ("sortie",), ("limit",), "table [sortie], key 'limit'"),
        ((), (), (), "the plan"),
    ],
)
def test_a_place_is_said_in_words(place: Any, item: Any, below: Any, subject: str):
    """By the name of its table where it has one, else by its number counted from one."""
    assert split_place(place) == (item, below)
    assert subject_of(tables_of(SOUND), place) == subject
