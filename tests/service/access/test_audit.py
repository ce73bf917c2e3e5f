"""The record of refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.core.base.times import parse_instant
from dashboard.service.access.audit import LONGEST_FIELD, MOST_LINES, Audit
from tests.service.access.test_attempts import Clock


def lines_of(path: Path) -> list[dict[str, str]]:
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_a_refusal_is_one_line_in_the_file_and_on_standard_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """With time, address, name, what and why."""
    audit = Audit(tmp_path / "refused.jsonl")
    audit.refused("192.0.2.1", "Ada Lee", "'defer', id d1", "needs the lead key")
    audit.close()
    (line,) = lines_of(tmp_path / "refused.jsonl")
    assert parse_instant(line.pop("time"))
    assert line == {"address": "192.0.2.1", "who": "Ada Lee", "refused": "'defer', id d1", "why": "needs the lead key"}
    assert capsys.readouterr().err == (tmp_path / "refused.jsonl").read_text()


def test_what_strangers_write_can_neither_begin_a_line_nor_reach_a_terminal(tmp_path: Path):
    """It is escaped, and cut."""
    audit = Audit(tmp_path / "a")
    audit.refused("192.0.2.1", "no key", 'x"}\n{"who": "Ada Lee"}\x1b[2J\u2028', "y" * 100_000)
    audit.close()
    (raw,) = (tmp_path / "a").read_text().splitlines()
    assert raw.isascii() and raw.isprintable() and len(raw) < 2 * LONGEST_FIELD


def test_a_stranger_cannot_fill_the_disk(tmp_path: Path):
    """Of one address a minute holds so many lines; what is left out is counted, and others are not left out."""
    clock = Clock()
    audit = Audit(tmp_path / "a", clock)
    for _ in range(MOST_LINES + 40):
        audit.refused("192.0.2.1", "no key", "a key", "not known")
    audit.refused("192.0.2.2", "no key", "a key", "not known")
    clock.now_s += 61
    audit.refused("192.0.2.1", "no key", "a key", "not known")
    audit.close()
    lines = lines_of(tmp_path / "a")
    assert [line["address"] for line in lines].count("192.0.2.1") == MOST_LINES + 2
    assert [line["refused"] for line in lines if line["refused"] != "a key"] == ["40 more"]


def test_a_file_that_is_moved_away_is_begun_anew(tmp_path: Path):
    """While the server runs."""
    audit = Audit(tmp_path / "a")
    (tmp_path / "a").rename(tmp_path / "b")
    audit.refused("192.0.2.1", "no key", "a key", "not known")
    audit.close()
    assert (len(lines_of(tmp_path / "a")), (tmp_path / "b").read_text()) == (1, "")


def test_a_file_that_goes_wrong_later_is_said_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
):
    """In the log of the server; the lines go on on standard error."""
    (tmp_path / "folder").mkdir()
    audit = Audit(tmp_path / "folder" / "a")
    (tmp_path / "folder" / "a").unlink()
    (tmp_path / "folder").rmdir()
    for _ in range(3):
        audit.refused("192.0.2.1", "no key", "a key", "not known")
    audit.close()
    assert len(capsys.readouterr().err.splitlines()) == 3
    assert [record.message.count("cannot be written") for record in caplog.records] == [1]


def test_a_file_that_cannot_be_written_is_refused_at_the_start(tmp_path: Path):
    """Before anything is served."""
    with pytest.raises(InputError, match="option --audit"):
        Audit(tmp_path / "nowhere" / "a")
