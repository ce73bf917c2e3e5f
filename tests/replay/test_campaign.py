"""A set of sorties in a folder: what is planned, what was run, and which sortie takes what was left."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from replay.campaign import read_campaign
from tests.command import ENDED, LOG, PLAN

FIRST = PLAN.replace('id = "t"', 'id = "one"')
NEXT = PLAN.replace('id = "t"', 'id = "two"').replace("2031-04-12", "2031-05-02")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Sortie one was run, and ended with T040 not begun; sortie two is planned, and has T040 again."""
    files = {"one/plan.toml": FIRST, "two/plan.toml": NEXT, "one/run.toml": 'setting = "pool"\n', "one/log.jsonl": LEFT}
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


LEFT = LOG + '{"id": "e6", "at": "2031-04-12T10:12:00Z", "kind": "done", "task": "T030"}\n' + ENDED.splitlines()[-1] + "\n"


def test_sorties_stand_in_the_order_of_their_start_with_their_runs(folder: Path):
    """The header of a run is no plan."""
    one, two = read_campaign(folder).sorties
    assert (one.sortie, one.files, one.runs, one.tasks) == ("one", ("one/plan.toml",), ("one",), 4)
    assert (two.sortie, two.date, two.runs) == ("two", "2031-05-02", ())


def test_what_a_run_left_is_taken_by_the_later_sortie_that_has_it(folder: Path):
    """By id and title; under another title it is another task."""
    by_task = {one.task: one.taken_by for one in read_campaign(folder).carried}
    assert by_task == {"T020": "two", "T040": "two"}
    (folder / "two" / "plan.toml").write_text(NEXT.replace("Swap tray", "Wash tray"), encoding="utf-8")
    assert {one.task: one.taken_by for one in read_campaign(folder).carried} == {"T020": "two", "T040": None}
    (folder / "two" / "plan.toml").write_text(NEXT.replace("2031-05-02", "2030-05-02"), encoding="utf-8")
    assert {one.taken_by for one in read_campaign(folder).carried} == {None}  # an earlier sortie takes nothing


def test_a_rehearsal_is_listed_and_leaves_nothing(folder: Path):
    """What a trainee left out was not left out."""
    (folder / "one" / "run.toml").write_text('parent = "The real run"\n', encoding="utf-8")
    found = read_campaign(folder)
    assert (found.sorties[0].runs, found.sorties[0].rehearsals, found.carried) == ((), ("one",), ())


def test_plans_of_one_sortie_that_differ_are_counted(folder: Path):
    """A comment makes no other plan; a task does."""
    (folder / "again.toml").write_text("# read back\n" + FIRST, encoding="utf-8")
    assert read_campaign(folder).sorties[0].plans == 1
    (folder / "again.toml").write_text(FIRST.replace("Unstow pump", "Unstow pumps"), encoding="utf-8")
    one = read_campaign(folder).sorties[0]
    assert (one.files, one.plans) == (("again.toml", "one/plan.toml"), 2)


def test_what_cannot_be_used_is_listed_with_the_reason(folder: Path):
    """A plan with an error, a file that is no TOML, and a run without its plan; the rest is shown."""
    (folder / "bad.toml").write_text("[sortie\n", encoding="utf-8")
    (folder / "three.toml").write_text(NEXT.replace('lanes = ["EV2"]', 'lanes = ["EV9"]'), encoding="utf-8")
    (folder / "lost").mkdir()
    (folder / "lost" / "log.jsonl").write_text(LOG, encoding="utf-8")
    found = read_campaign(folder)
    assert [one.name for one in found.unused] == ["bad.toml", "three.toml", "lost"]
    assert "EV9" in found.unused[1].why and "no such file" in found.unused[2].why
    assert len(found.sorties) == 2


NOTHING = [("none", "no such folder"), ("empty", "neither a plan nor a run"), ("file", "a file")]


@pytest.mark.parametrize(("name", "found"), NOTHING)
def test_a_folder_without_plans_and_runs_is_refused(tmp_path: Path, name: str, found: str):
    """And the message says what was found."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match=found):
        read_campaign(tmp_path / name)
