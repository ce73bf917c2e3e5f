"""The plan as it is edited: rows, history, names and times."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.pure.conftest import Run

ROWS = [
    {"key": "a", "id": "T010", "title": "Unstow", "lanes": "EV1", "start": "0:00", "duration": "20/30/50", "worksite": "bay"},
    {"key": "b", "id": "T020", "lanes": "EV1 EV2", "start": "0:30", "duration": "0:40", "leg": "mast"},
    {"key": "c", "id": "T030", "lanes": "EV2", "start": "1:10", "duration": "x"},
]


def test_every_step_can_be_undone_and_done_again(run: Run) -> None:
    """To the first state and to the last; a new step ends what could be done again."""
    said = run("""
        const d = modules.draft, h1 = d.done(d.begun(given[0]), d.removed(given[0], "b"));
        const h2 = d.done(h1, d.changed(h1.rows, "a", "title", "Carry"));
        const back = d.undone(d.undone(h2)), again = d.redone(d.redone(back)), other = d.done(d.undone(h2), []);
        return [d.undone(back).rows, again.rows, d.redone(other).rows, given[0].length];
    """, ROWS)  # fmt: skip
    assert said == [ROWS, [{**ROWS[0], "title": "Carry"}, ROWS[2]], [], 3]


def test_a_row_moves_by_one_place_and_not_beyond_the_ends(run: Run) -> None:
    """And the rows come in the order of dragged keys."""
    order = "const keys = (rows) => rows.map((row) => row.key).join('');"
    assert run(order + "return keys(modules.draft.moved(given[0], 'a', 1))", ROWS) == "bac"
    assert run(order + "return keys(modules.draft.moved(given[0], 'a', -1))", ROWS) == "abc"
    assert run(order + "return keys(modules.draft.ordered(given[0], ['c', 'a', 'b']))", ROWS) == "cab"


def test_a_new_row_follows_in_the_same_lanes_where_the_task_ends(run: Run) -> None:
    """At the worksite that a leg leads to. Without a row it is the first task of the first lane."""
    made = run("return modules.draft.following(given[0], given[0][1], 'd', 'EV1')", ROWS)
    assert made == {
        "key": "d", "id": "T025", "lanes": "EV1 EV2", "start": "1:10", "duration": "", "worksite": "mast", "contingency": "",
    }  # fmt: skip
    first = run("return modules.draft.following([], null, 'd', 'EV1')")
    assert first == {"key": "d", "id": "T010", "lanes": "EV1", "start": "0:00", "duration": ""}


def test_a_new_row_begins_when_its_lanes_are_free(run: Run) -> None:
    """When they are typed. A task that has its duration keeps its start, and so does one in a lane without a task above."""
    new = {"key": "d", "id": "T040", "lanes": "EV1 EV2", "start": "1:10", "duration": ""}
    start = "return modules.draft.changed(given[0], 'd', 'lanes', given[1]).find((row) => row.key === 'd').start"
    above = [*ROWS[:2], {"key": "e", "id": "T035", "lanes": "ARM", "start": "0:10", "duration": "5"}]
    starts = [run(start, [*above, new, ROWS[2]], lanes) for lanes in ("ARM", "EV2 ARM", "HOIST")]
    assert starts == ["0:15", "1:10", "1:10"]
    assert run(start, [*above, {**new, "duration": "10"}], "ARM") == "1:10"


def test_a_copy_has_a_name_of_its_own_and_begins_at_the_end(run: Run) -> None:
    """A duration that cannot be read leaves the start as it is."""
    copy = run("return modules.draft.copyOf(given[0], given[0][0], 'd')", ROWS)
    assert copy == {**ROWS[0], "key": "d", "id": "T011", "start": "0:30"}
    assert run("return modules.draft.copyOf(given[0], given[0][2], 'd').start", ROWS) == "1:10"


@pytest.mark.parametrize(
    ("taken", "like", "steps", "name"),
    [(["T010"], "T010", [10, 5], "T020"), (["T010", "T020"], "T010", [10, 5], "T015"), (["T009"], "T009", [1], "T010"),
     (["T010", "T020", "T015"], "T010", [10, 5], "T011"), (["lash"], "lash", [1], "lash1"), ([], "", [10], "T010")],
)  # fmt: skip
def test_a_fresh_name_is_near_and_free(run: Run, taken: list[str], like: str, steps: list[int], name: str) -> None:
    """With as many digits."""
    assert run("return modules.draft.freshName(given[0].map((id) => ({ id })), given[1], given[2])", taken, like, steps) == name


@pytest.mark.parametrize(
    ("text", "name", "is_list", "made"),
    [("T010 T", "T020", True, "T010 T020"), ("T010 T020", "T010", True, "T020"), ("T010+5", "T010", True, ""),
     ("T010 ", "T020", True, "T010 T020"), ("", "T010", True, "T010"), ("ba", "bay", False, "bay"), ("bay", "bay", False, "")],
)  # fmt: skip
def test_a_name_of_the_list_is_taken_or_taken_out(run: Run, text: str, name: str, is_list: bool, made: str) -> None:
    """In the place of the word that is being typed."""
    assert run("return modules.draft.toggled(given[0], given[1], given[2])", text, name, is_list) == made


def test_a_cell_offers_what_the_plan_has(run: Run) -> None:
    """Other tasks with their titles, the names of the server, what other rows have; a title may be any text."""
    offered: dict[str, Any] = run("""
        const of = (column) => modules.draft.optionsOf(column, given[0], given[0][1], { lanes: ["EV1", "EV2"] });
        return { after: of("after"), lanes: of("lanes"), title: of("title"), together: of("together") };
    """, ROWS)  # fmt: skip
    assert offered["after"] == [{"name": "T010", "said": "Unstow"}, {"name": "T030", "said": ""}]
    assert [one["name"] for one in offered["lanes"]] == ["EV1", "EV2"]
    assert (offered["title"], offered["together"]) == (None, [])


def test_rows_of_the_server_keep_the_keys_of_their_tasks(run: Run) -> None:
    """A task that is new gets a fresh one; empty texts are not sent."""
    keyed = run("return modules.draft.keyed([{ id: 'T030' }, { id: 'T040' }, { id: 'T010' }], given[0], () => 'new')", ROWS)
    assert [row["key"] for row in keyed] == ["c", "new", "a"]
    assert run("return modules.draft.plain([{ key: 'a', id: 'T010', title: '' }])") == [{"id": "T010"}]


def test_equal_rows_are_equal_as_text_whatever_the_order_of_their_columns(run: Run) -> None:
    """Else a row that was typed would count as changed after it is saved."""
    texts = run("""
        const text = (row) => JSON.stringify(modules.draft.plain([row]));
        return [text({ id: "T010", lanes: "EV1" }), text({ lanes: "EV1", id: "T010" })];
    """)
    assert texts[0] == texts[1]
