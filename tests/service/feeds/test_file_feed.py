"""Following a file that grows."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from dashboard.service.feeds import feed as feed_module
from dashboard.service.feeds.feed import Feed
from dashboard.service.feeds.file_feed import FileFeed
from tests.service.feeds.intakes import Intake, note
from tests.waiting import until

Follow = Callable[..., tuple[FileFeed, Intake]]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "crew.jsonl"


@pytest.fixture
def follow(path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Follow]:
    """Follows the file into an intake, a new one or that which is given."""
    monkeypatch.setattr(feed_module, "FIRST_PAUSE_S", 0.01)
    monkeypatch.setattr(feed_module, "LONGEST_PAUSE_S", 0.05)
    started: list[Feed] = []

    def start(
        intake: Intake | None = None, place: Path | None = None, at_rest_s: float = 0.0, since: datetime | None = None
    ) -> tuple[FileFeed, Intake]:
        intake, feed = intake or Intake(), FileFeed(place or path, (place or path).name, at_rest_s=at_rest_s)
        started.append(feed)
        feed.start(intake.take, since)
        return feed, intake

    yield start
    for feed in started:
        feed.close()


def append(path: Path, *texts: str, end: str = "\n") -> None:
    with path.open("a", encoding="utf-8") as file:
        for text in texts:
            file.write(text + end)


def test_what_is_there_and_what_is_added_is_taken(path: Path, follow: Follow):
    """In the order of the file; the feed says how many entries it brought."""
    append(path, note("one"))
    feed, intake = follow()
    until(lambda: intake.texts == ["one"], "the first note")
    append(path, note("two"), "no json")
    until(lambda: intake.unread, "the line that cannot be read")
    assert intake.texts == ["one", "two"] and intake.unread_lines == ["no json"]
    seen = feed.status.seen()
    assert (seen.standing, seen.entries, seen.unread) == ("fresh", 3, 1)


def test_following_once_more_records_nothing_twice(path: Path, follow: Follow):
    """After a restart the file is read from its beginning; entries without id and time are known again."""
    append(path, note("same"), note("same"), "no json", note("timed", at="2031-04-12T10:00:00Z"))
    feed, intake = follow()
    until(lambda: intake.unread and len(intake.events) == 3, "all of it")
    feed.close()
    append(path, note("same"))
    again, _ = follow(intake)
    until(lambda: again.status.seen().entries == 5, "the file read once more")
    assert len(intake.events) == 4 and len(intake.unread) == 1


def test_a_line_counts_when_its_end_is_there(path: Path, follow: Follow):
    """Half a line is no entry."""
    _, intake = follow(at_rest_s=3600)
    append(path, note("one")[:10], end="")
    append(path, note("one")[10:], end="")
    append(path, "", note("two"))
    until(lambda: intake.texts == ["one", "two"], "both notes")
    assert not intake.unread


def test_an_object_that_is_whole_counts_without_the_end_of_its_line(path: Path, follow: Follow):
    """Once the file is at rest; half an object waits on."""
    append(path, note("one"), end="")
    _, intake = follow()
    until(lambda: intake.texts == ["one"], "the note")
    append(path, "\n" + note("two")[:-3], end="")
    append(path, note("two")[-3:], end="")
    until(lambda: intake.texts == ["one", "two"], "the second note")
    assert not intake.unread


def test_rotation_is_followed_from_the_end_of_the_old_file_to_the_new_one(path: Path, follow: Follow):
    """What is written to the old file before the new one is there is read as well."""
    append(path, note("one", at="2031-04-12T10:00:00Z"))
    _, intake = follow()
    until(lambda: intake.texts == ["one"], "the first note")
    path.rename(path.with_suffix(".1"))
    append(path.with_suffix(".1"), note("two"), note("last, unfinished")[:-2])
    append(path, note("three"), note("two"))
    until(lambda: len(intake.events) == 4, "the notes of both files")
    assert intake.texts == ["one", "two", "three", "two"]
    assert intake.unread_lines == [note("last, unfinished")[:-2]]


def test_a_file_that_is_written_anew_with_more_brings_only_what_is_new(path: Path, follow: Follow):
    """As a copy program does that replaces the file by a newer one."""
    append(path, note("one"), note("one"))
    _, intake = follow()
    until(lambda: len(intake.events) == 2, "both notes")
    newer = path.with_suffix(".new")
    append(newer, note("one"), note("one"), note("two"))
    newer.rename(path)
    until(lambda: "two" in intake.texts, "what is new")
    assert intake.texts == ["one", "one", "two"]


@pytest.mark.parametrize("longer", [False, True])
def test_a_file_that_is_emptied_and_written_anew_is_read_from_its_beginning(path: Path, follow: Follow, longer: bool):
    """Also when it is longer than before by the time that somebody looks."""
    append(path, note("one"))
    _, intake = follow()
    until(lambda: intake.texts == ["one"], "the first note")
    with path.open("r+b") as file:
        file.truncate()
        file.write("".join(f"{note(text)}\n" for text in (["two", "three"] if longer else ["2"])).encode())
    wanted = ["one", "two", "three"] if longer else ["one", "2"]
    until(lambda: intake.texts == wanted, "the notes of the new beginning")


def test_a_file_that_is_not_there_is_waited_for_and_named(path: Path, follow: Follow):
    """It is said in words until the file comes, and again when it goes."""
    feed, intake = follow()
    until(lambda: feed.status.seen().standing == "lost", "the file being missed")
    said = feed.status.seen().said
    assert said.startswith("Feed crew.jsonl is lost for 0 s: No such file") and "tried again every" in said
    append(path, note("one"))
    until(lambda: intake.texts == ["one"] and feed.status.seen().standing == "fresh", "the note")
    path.unlink()
    until(lambda: feed.status.seen().standing == "lost", "the file being missed again")
    append(path, note("two"))
    until(lambda: "two" in intake.texts and feed.status.seen().standing == "fresh", "the note of the new file")


def test_a_binary_file_is_refused_without_a_flood_of_lines(path: Path, follow: Follow):
    """It is looked at again, and followed once it is text."""
    path.write_bytes(b"\x7fELF\0\0\n" * 1000)
    feed, intake = follow()
    until(lambda: feed.status.seen().standing == "lost", "the refusal")
    assert "binary file" in feed.status.seen().said and not intake.unread
    path.write_text(note("one") + "\n", encoding="utf-8")
    until(lambda: intake.texts == ["one"], "the text")


def test_csv_is_followed_too(tmp_path: Path, follow: Follow):
    """The header counts for what is added later."""
    path = tmp_path / "readings.csv"
    append(path, "at,kind,suit,oxygen,water")
    _, intake = follow(place=path)
    append(path, "2031-04-12T10:00:00Z,reading,A,0.41,", "2031-04-12T10:05:00Z,reading,A,,2.2")
    until(lambda: len(intake.events) == 2, "two readings")
    first, second = intake.events.values()
    assert first["oxygen"] == "0.41" and "oxygen" not in second


def test_the_age_of_a_file_is_that_of_its_last_change(path: Path, follow: Follow):
    """An old file that is read now is no news."""
    append(path, note("one"))
    os.utime(path, (1.0, 1.0))
    feed, intake = follow()
    until(lambda: intake.texts == ["one"], "the note")
    seen = feed.status.seen()
    assert seen.standing == "stale" and seen.heard_at.year == 1970
    assert "Check that its writer still runs" in seen.said


def test_what_was_rotated_away_while_nobody_followed_is_read_first(path: Path, follow: Follow):
    """Of the files named after it those that were changed since; what was recorded before is known again."""
    append(path, note("one"))
    before, intake = follow()
    until(lambda: intake.texts == ["one"], "the first note")
    before.close()
    since = datetime.now(UTC)
    append(path, note("two"))
    path.rename(f"{path}.1")
    append(path, note("three"), note("four"))
    path.rename(f"{path}-20310412")
    append(path, note("five"))
    for other in (f"{path}.0", f"{path}.bak"):
        append(Path(other), note("of an earlier sortie"))
        os.utime(other, (1.0, 1.0))
    append(Path(f"{path}.old"), note("of something else"))
    _, _ = follow(intake, since=since)
    until(lambda: "five" in intake.texts, "the file that has the name now")
    assert intake.texts == ["one", "two", "three", "four", "five"]
