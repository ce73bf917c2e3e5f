"""`tetherline restore`: a new store made of a backup."""

from __future__ import annotations

from pathlib import Path

from dashboard.core.base.times import parse_instant
from dashboard.log.store import EventStore
from tests.command import assert_bad_input, tetherline


def test_it_makes_the_same_store_and_writes_over_none(tmp_path: Path) -> None:
    """It says the same of the store as the backup said; once more it is refused."""
    store = EventStore(f"sqlite:///{tmp_path / 'sortie.db'}", "lantern-t")
    store.append([{"id": "e1", "at": "2031-04-12T09:15:00Z", "kind": "clock"}], parse_instant("2031-04-12T09:20:00Z"))
    backed_up = tetherline("backup", tmp_path / "sortie.db", tmp_path / "b.jsonl")
    done = tetherline("restore", tmp_path / "b.jsonl", tmp_path / "new.db")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.split(" holds ")[1] == backed_up.stdout.split(" holds ")[1]
    again = EventStore(f"sqlite:///{tmp_path / 'new.db'}", "lantern-t")
    assert again.events() == store.events() != []
    for one in (store, again):
        one.close()
    assert_bad_input(tetherline("restore", tmp_path / "b.jsonl", tmp_path / "new.db"), "does not exist yet")
