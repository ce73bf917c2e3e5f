"""The plan file of a server: checked as it is edited, and saved without losing anything."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.planfile import load_plan
from dashboard.log.store import EventStore
from dashboard.service.access.roles import Visitor
from dashboard.service.answers.plan_file import ONLY_SHOWS, UNDER_WAY, PlanFile
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.scenario import LANES, SORTIE, task
from tests.service.conftest import StandingClock, event

TEXT = (
    f"# for the room\n[sortie]\n{SORTIE}\n{LANES}\n# the pump first\n"
    + task("T010", "EV1", "0:00", 30, title="Unstow pump").replace("duration = 30", "duration = 30  # two runs")
    + task("T020", "EV1 EV2", "0:30", [20, 30, 50], title="Carry pump", after=["T010"])
)
LEAD = Visitor("lead")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    place = tmp_path / "plan.toml"
    place.write_bytes(TEXT.encode())
    return place


def desk_of(path: Path, *, may_log: bool = True) -> Desk:
    plan = load_plan(path)
    return Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id), StandingClock()), may_log=may_log)


@pytest.fixture
def desk(path: Path) -> Iterator[Desk]:
    made = desk_of(path)
    yield made
    made.close()


@pytest.fixture
def file(desk: Desk, path: Path) -> PlanFile:
    return PlanFile(desk, path)


def edited(rows: list[dict[str, str]], task: str, **cells: str) -> list[dict[str, str]]:
    return [{**row, **cells} if row["id"] == task else row for row in rows]


def test_saving_changes_only_what_was_edited(file: PlanFile, path: Path) -> None:
    """Every comment stays, also that behind the changed value; the answer names the file as it is now."""
    begun = file.content(LEAD)
    made = file.save(edited(begun["rows"], "T010", duration="20/25/40"), begun["rows"], begun["digest"])
    assert path.read_text() == TEXT.replace("duration = 30  # two", "duration = [20, 25, 40]  # two")
    again = file.content(LEAD)
    assert (made["digest"], made["rows"]) == (again["digest"], again["rows"])
    assert begun["is_followed"] and not again["is_followed"]


def test_a_mark_and_line_ends_and_permissions_of_the_file_stay(file: PlanFile, path: Path) -> None:
    """As another program left them."""
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    path.chmod(0o640)
    begun = file.content(LEAD)
    file.save(edited(begun["rows"], "T010", title="Unstow"), begun["rows"], begun["digest"])
    assert path.read_bytes() == b"\xef\xbb\xbf" + TEXT.replace("Unstow pump", "Unstow").replace("\n", "\r\n").encode()
    assert path.stat().st_mode & 0o777 == 0o640
    assert [one.name for one in path.parent.iterdir()] == ["plan.toml"]


def test_of_two_editors_the_second_writes_nothing_and_gets_both_differences(file: PlanFile, path: Path) -> None:
    """His rows on those of the file are saved under the digest that he is given."""
    begun = file.content(LEAD)
    file.save(edited(begun["rows"], "T010", title="Unstow"), begun["rows"], begun["digest"])
    after_first = path.read_bytes()
    mine = edited(begun["rows"], "T020", duration="25/30/50")
    conflict = file.save(mine, begun["rows"], begun["digest"])
    assert path.read_bytes() == after_first
    assert conflict["their_changes"] == ["Task T010 (Unstow): title from 'Unstow pump' to 'Unstow'."]
    assert conflict["your_changes"] == ["Task T020 (Carry pump): duration from '20/30/50' to '25/30/50'."]
    file.save(conflict["together"], conflict["theirs"], conflict["digest"])
    plan = load_plan(path)
    assert (plan.tasks[0].title, plan.tasks[1].duration.low) == ("Unstow", 25)


@pytest.mark.parametrize(("cell", "text"), [("duration", "long"), ("lanes", ""), ("workload", "hard"), ("contingency", "leak")])
def test_what_would_be_no_plan_is_not_written(file: PlanFile, path: Path, cell: str, text: str) -> None:
    """A value that cannot be read, one that is needed, a contingency that is not there: the problem names the task."""
    begun = file.content(LEAD)
    with pytest.raises(InputError) as refused:
        file.save(edited(begun["rows"], "T010", **{cell: text}), begun["rows"], begun["digest"])
    assert "T010" in str(refused.value)
    assert path.read_bytes() == TEXT.encode()


def test_an_overlap_is_drawn_and_saved_and_no_server_starts_with_it(file: PlanFile, path: Path) -> None:
    """Planning takes days; the finding says what refuses the plan."""
    begun = file.content(LEAD)
    rows = edited(begun["rows"], "T010", duration="35")
    found = file.check(rows, begun["rows"])
    assert sum(one["refuses"] for one in found["findings"]) == 2 and found["left_out"] == []
    assert {label["task"] for label in found["sheet"]["labels"]} == {"T010", "T020"}
    file.save(rows, begun["rows"], begun["digest"])
    with pytest.raises(InputError, match="overlap by 5 min"):
        load_plan(path)


def test_a_check_says_what_it_finds_at_its_cell_and_draws_the_rest(file: PlanFile) -> None:
    """The task with the error is left out of the lane sheet, with the links to it; the others are drawn."""
    begun = file.content(LEAD)
    sound = file.check(begun["rows"], begun["rows"])
    assert (sound["changes"], sound["left_out"]) == ([], [])
    assert {one["severity"] for one in sound["findings"]} <= {"caution", "note"}  # what the forecast of the brief finds
    found = file.check(edited(begun["rows"], "T010", duration="long"), begun["rows"])
    assert [(one["row"], one["column"]) for one in found["findings"] if one["severity"] == "error"] == [(0, "duration")]
    assert found["left_out"] == ["T010"]
    assert {label["task"] for label in found["sheet"]["labels"]} == {"T020"}
    assert found["sheet"]["stamp"] != sound["sheet"]["stamp"]


def test_a_plan_without_any_task_is_an_error_and_not_drawn(file: PlanFile) -> None:
    """It says so, and nothing fails."""
    empty = file.check([], file.content(LEAD)["rows"])
    assert empty["sheet"] is None and [one["severity"] for one in empty["findings"]] == ["error"]
    assert len(empty["changes"]) == 2


def test_once_pet_zero_is_recorded_nothing_is_saved_any_more(file: PlanFile, desk: Desk) -> None:
    """Before it the lead may; then nobody, whatever the role."""
    assert file.why_not(LEAD) == ""
    assert "decisions" in file.why_not(Visitor("log"))
    desk.record([event("clock", 0)])
    assert file.why_not(LEAD) == UNDER_WAY


def test_without_a_file_or_on_a_server_that_only_shows_the_plan_is_there_to_look_at(path: Path) -> None:
    """With its rows; saving is refused."""
    desk = desk_of(path, may_log=False)
    try:
        assert PlanFile(desk, path).why_not(LEAD) == ONLY_SHOWS
        shown = PlanFile(desk, None).content(LEAD)
        assert [row["id"] for row in shown["rows"]] == ["T010", "T020"] and shown["why_not"]
        with pytest.raises(InputError):
            PlanFile(desk, None).save(shown["rows"], shown["rows"], shown["digest"])
    finally:
        desk.close()


def test_a_file_that_cannot_be_changed_piece_by_piece_is_left_as_it_is(file: PlanFile, path: Path) -> None:
    """The answer says what to do."""
    text = f"[sortie]\n{SORTIE}\n{LANES}\n"
    inline = 'task = [{id = "T010", lanes = ["EV1"], duration = 30, start = 0}]\n' + text
    path.write_text(inline)
    begun = file.content(LEAD)
    with pytest.raises(InputError, match="text editor"):
        file.save(edited(begun["rows"], "T010", duration="35"), begun["rows"], begun["digest"])
    assert path.read_text() == inline


def test_the_whole_text_is_checked_with_its_lines_and_saved_as_it_is(file: PlanFile, path: Path) -> None:
    """Other tables and comments too; line ends and mark are those of the file, whatever the browser made of them."""
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    begun = file.content(LEAD)
    text = begun["text"].replace("\r\n", "\n") + '\n# new\n[[worksite]]\nid = "mast"\nreturn = 5\n'
    checked = file.check_text(text, begun["text"])
    assert checked["summary"].startswith("The plan can be used: as briefed over 99 % likely") and checked["changes"] == [
        f"after line {len(TEXT.splitlines())}: '# new / [[worksite]] / id = \"mast\" / return = 5' is new"
    ]
    assert file.save_text(text, begun["text"], begun["digest"])["digest"] == file.content(LEAD)["digest"]
    assert path.read_bytes() == b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    assert file.content(LEAD)["choices"]["worksite"] == ["mast"]


def test_a_text_that_makes_no_plan_is_told_with_its_line_and_not_saved(file: PlanFile, path: Path) -> None:
    """A wrong value, and what is no TOML at all."""
    digest = file.content(LEAD)["digest"]
    line = TEXT.splitlines().index('title = "Unstow pump"') + 1
    for text, said in (
        (TEXT.replace('title = "Unstow pump"', "title = 7"), f"plan.toml:{line}"),
        (TEXT + "[[lane", f"{len(TEXT.splitlines()) + 1}"),
    ):
        checked = file.check_text(text, TEXT)
        assert checked["findings"][0]["severity"] == "error" and said in checked["findings"][0]["text"]
        with pytest.raises(InputError):
            file.save_text(text, TEXT, digest)
    assert path.read_text() == TEXT


def test_a_text_is_not_saved_over_another_editor_and_both_changes_are_put_together(file: PlanFile, path: Path) -> None:
    """The answer has both differences, and the file with the changes of both; line ends count for nothing."""
    begun = file.content(LEAD)
    theirs = TEXT.replace("Carry pump", "Carry the pump").replace("\n", "\r\n").encode()
    path.write_bytes(theirs)
    mine = TEXT.replace('title = "Unstow pump"', 'title = "Unstow it"') + '[[worksite]]\nid = "mast"\n'
    told = file.save_text(mine, begun["text"], begun["digest"])
    assert "said" not in told and path.read_bytes() == theirs and told["both"] == []
    assert "Carry the pump" in told["their_changes"][0] and "Unstow it" in told["your_changes"][0]
    assert told["together"] == mine.replace("Carry pump", "Carry the pump")
    assert "said" in file.save_text(told["together"], told["theirs"], told["digest"])
    assert path.read_bytes() == told["together"].replace("\n", "\r\n").encode()
    again = file.save_text(mine.replace("Carry pump", "Carry it"), begun["text"], begun["digest"])
    assert again["together"] is None and "in your text 'title = \"Carry it\"'" in again["both"][0]


def test_the_page_is_told_which_tasks_belong_to_which_ending(file: PlanFile, path: Path) -> None:
    """So that it makes no room for a task that is never done beside the other; a file that makes no plan has none to tell."""
    ending = '[[alternative]]\nid = "e"\ndefault = "x"\noptions = { x = ["T010"], y = ["T020", "T010"] }\n'
    path.write_text(TEXT + ending)
    assert file.content(LEAD)["endings"] == {"T010": {"e": ["x", "y"]}, "T020": {"e": ["y"]}}
    path.write_text(TEXT + ending.replace("default", "standard"))
    assert file.content(LEAD)["endings"] == {}
