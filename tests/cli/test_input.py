"""What a person may get wrong: every command answers with a clear sentence and a cure, never with a trace."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.command import LOG, PLAN, assert_bad_input, tetherline

PYTHON = (sys.executable, "-m", "dashboard.cli")
FOLDER_PLAN = {"plan.toml": PLAN}
OTHERS = LOG.replace('"e', '"o').replace('"kind"', '"sortie": "lantern-9", "kind"')
STRANGE = "".join(
    json.dumps({"id": f"x{n}", "at": "2031-04-12T09:20:00Z", "kind": "start", "task": f"Q{n}"}) + "\n" for n in range(30)
)
FAR = '{"id": "f", "at": "9999-12-31T23:59:59Z", "kind": "note", "text": "x"}\n'
ZONE = '{"id": "f", "at": "0001-01-01T00:00:00+14:00", "kind": "note", "text": "x"}\n'


@pytest.fixture
def there(tmp_path: Path) -> Path:
    """A folder with a plan, its log, and a run."""
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "run-1.jsonl").write_text(LOG, encoding="utf-8")
    return tmp_path


def write(folder: Path, name: str, content: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


# --- logs

READING = ("state", "suits", "advise")


@pytest.mark.parametrize("command", READING)
def test_lines_that_are_left_out_are_listed(there: Path, command: str):
    """Another sortie's lines among ours: every command that reads the log says so."""
    log = write(there, "log.jsonl", LOG + OTHERS)
    done = tetherline(command, there / "plan.toml", log)
    assert done.returncode == 0
    assert "Could not be understood (5)" in done.stdout
    assert "lantern-9" in done.stdout


def test_advice_as_json_says_so_beside_it(there: Path):
    """On standard error; what is printed stays JSON."""
    done = tetherline("advise", there / "plan.toml", write(there, "log.jsonl", LOG + OTHERS), "--json")
    assert json.loads(done.stdout)["caution"]
    assert "5 lines of the log could not be understood" in done.stderr


@pytest.mark.parametrize("command", READING)
@pytest.mark.parametrize(("log", "says"), [(STRANGE, "nothing fits the plan (events: 30)"), (OTHERS, "'lantern-9'")])
def test_a_log_of_which_nothing_can_be_used_is_refused(there: Path, command: str, log: str, says: str):
    """Events that can be read but name nothing of the plan are no state of this sortie."""
    done = tetherline(command, there / "plan.toml", write(there, "log.jsonl", log))
    assert_bad_input(done, "log.jsonl", says)
    assert done.stdout == ""


@pytest.mark.parametrize("command", [*READING, "debrief", "score", "replay"])
def test_a_log_that_plainly_belongs_to_another_plan_is_warned_of(there: Path, command: str):
    """Most of its tasks are unknown, though its clock and one task fit: one line, the same everywhere, and it goes on."""
    log = write(there, "log.jsonl", LOG.splitlines()[0] + "\n" + LOG.splitlines()[1] + "\n" + STRANGE)
    plan = [] if command in ("score", "replay") else [there / "plan.toml"]
    more = ["--at", "99:00", "--no-browser"] if command == "replay" else []
    done = tetherline(command, *plan, log, *more)
    warnings = [line for line in done.stderr.splitlines() if line.startswith("warning: ")]
    assert len(warnings) == 1, done.stderr
    assert "a log of sortie 't'; found one that names 31 tasks, 30 of which are not in the plan (Q0, Q1, Q10, ...)" in warnings[0]


def test_a_log_mostly_of_another_sortie_is_warned_of(there: Path):
    """By the sortie that its events name."""
    log = write(there, "log.jsonl", LOG.splitlines()[0] + "\n" + OTHERS)
    done = tetherline("state", there / "plan.toml", log)
    assert "warning: " in done.stderr and "5 of 6 events are of sortie 'lantern-9'" in done.stderr


def test_very_many_unread_lines_are_counted_and_the_first_shown(there: Path):
    """The figures are not buried."""
    noise = "not an event\n" * 500
    done = tetherline("state", there / "plan.toml", write(there, "log.jsonl", LOG + noise))
    assert "Could not be understood (500)" in done.stdout and "and 480 more lines" in done.stdout
    assert len(done.stdout.splitlines()) < 80


def test_an_event_dated_far_off_is_not_taken_for_the_last(there: Path):
    """A slip of the year does not move the sortie there; it is named."""
    done = tetherline("state", there / "plan.toml", write(there, "log.jsonl", LOG + FAR))
    assert (done.returncode, "PET 0:37" in done.stdout) == (0, True)
    assert "warning: 1 event dated far off" in done.stderr


def test_a_training_day_weeks_before_the_flight_is_no_slip(there: Path):
    """Its clock event and its work agree."""
    trained = LOG.replace("2031-04-12", "2031-03-02")
    done = tetherline("state", there / "plan.toml", write(there, "log.jsonl", trained))
    assert (done.returncode, "PET 0:37" in done.stdout, done.stderr) == (0, True, "")


def test_a_time_beyond_the_calendar_is_an_unread_line(there: Path):
    """Year 1 with an offset lies before any calendar."""
    done = tetherline("state", there / "plan.toml", write(there, "log.jsonl", LOG + ZONE))
    assert done.returncode == 0
    assert "years 1 to 9999" in done.stdout


def test_a_pet_before_the_clock_event_is_refused(there: Path):
    """The run is of another day: five minutes before its PET zero nobody could tell that PET."""
    later = LOG.replace("2031-04-12", "2031-05-23")
    log = write(there, "log.jsonl", later)
    assert_bad_input(tetherline("state", there / "plan.toml", log, "--at", "-5"), "option --at", "the clock event")
    assert tetherline("state", there / "plan.toml", log, "--at", "0:05").returncode == 0


# --- plans

WRONG_PLANS = {
    "a start": (PLAN.replace("start = 0\n", "start = 1e300\n", 1), "at most 1440"),
    "a start without a number": (PLAN.replace("start = 0\n", "start = nan\n", 1), "finite"),
    "a start before PET zero": (PLAN.replace("start = 0\n", "start = -1e9\n", 1), "0 or more"),
    "a duration": (PLAN.replace("duration = 60", "duration = 1e300"), "1440"),
    "no end of a duration": (PLAN.replace("duration = 60", "duration = inf"), "finite"),
    "a limit": (PLAN.replace('limit = "7:00"', "limit = 1e300"), "1440"),
    "not before": (PLAN.replace('id = "T020"', 'id = "T020"\nnot_before = 1e300'), "1440"),
    "a value": (PLAN.replace('id = "T020"', 'id = "T020"\nvalue = 1e300'), "1e+06"),
    "what is loaded": (PLAN.replace("loaded = 0.55", "loaded = 1e300"), "1e+06"),
    "a circle": (PLAN.replace('id = "T020"', 'id = "T020"\nafter = ["T040"]'), "without a circle"),
    "a log": (LOG, "JSON, such as an event log"),
    "empty": ("", "an empty file"),
    "binary": (b"PK\x03\x04\x00\x00" * 50, "a binary file"),
    "latin-1": (PLAN.replace("Unstow", "Unst\xf6w").encode("latin-1"), "not UTF-8"),
    "10 MB": (b"\x8f" * 10_000_000, "at most 5 MB"),
}


@pytest.mark.parametrize("name", WRONG_PLANS)
def test_a_plan_that_makes_no_sense_is_refused(there: Path, name: str):
    """With what was expected, found and where; short enough to read."""
    content, says = WRONG_PLANS[name]
    done = tetherline("state", write(there, "wrong.toml", content), there / "run-1.jsonl")
    assert_bad_input(done, "wrong.toml", says)
    assert max(map(len, done.stderr.splitlines())) < 400


def test_a_file_is_named_once(there: Path):
    """Not as place and as subject."""
    done = tetherline("check", there / "nofile")
    assert done.stdout.count("nofile") == 1
    assert done.stdout.startswith("error: file ")


# --- runs and servers


@pytest.mark.parametrize(
    ("name", "files", "says"),
    [
        ("nofile", None, "nofile: recorded run: expected a log, or a folder"),
        ("folder", {}, "one file log.jsonl or run-*.jsonl; found none"),
        ("folder", {"run-1.jsonl": LOG}, "plan of the run: expected plan.toml beside the log"),
        ("folder", {**FOLDER_PLAN, "run-1.jsonl": LOG, "run-2.jsonl": LOG}, "run-1.jsonl, run-2.jsonl"),
        ("folder", {**FOLDER_PLAN, "run-1.jsonl": LOG, "run-1.toml": b"\xff"}, "which is not UTF-8"),
        ("folder", {**FOLDER_PLAN, "run-1.jsonl": ""}, "an empty file"),
    ],
)
def test_a_run_that_cannot_be_replayed_is_refused(tmp_path: Path, name: str, files, says: str):
    """In words about what was asked for, not about what the program looked for next."""
    if files is not None:
        (tmp_path / name).mkdir()
        for file, content in files.items():
            write(tmp_path / name, file, content)
    assert_bad_input(tetherline("replay", tmp_path / name, "--no-browser"), says)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--host", "nowhere.invalid"), "option --host"),
        (("--host", ""), "option --host"),
        (("--host", "192.0.2.1"), "no address of this computer"),
        (("--log-key", ""), "the log key"),
        (("--log-key", "two words"), "the log key"),
        (("--log-key", "same", "--lead-key", "same"), "the lead key"),
        (("--store", "nonsense"), "event store"),
    ],
)
def test_serving_with_wrong_options_is_refused(there: Path, options: tuple[str, ...], says: str):
    """Before any server starts."""
    assert_bad_input(tetherline("serve", there / "plan.toml", "--port", "0", "--no-browser", *options), says)


@pytest.mark.parametrize("content", ["", "\n \n"])
def test_sending_nothing_is_said_and_is_no_success(there: Path, content: str):
    """An empty file, or nothing on standard input."""
    done = tetherline("send", write(there, "empty.jsonl", content), "--to", "http://127.0.0.1:9")
    assert_bad_input(done, "empty.jsonl", "Nothing was sent")
    assert_bad_input(tetherline("send", "-", "--to", "http://127.0.0.1:9", stdin=content), "Nothing was sent")


@pytest.mark.parametrize("text", ["{", "", "[1]", "NaN", '{"kind": "note"} x'])
def test_an_event_that_is_none_says_what_one_is(text: str):
    """With an example, before any connection."""
    done = tetherline("send", "--event", text, "--to", "http://127.0.0.1:9", "--tries", "1")
    assert (done.returncode, done.stderr) == (2, "")
    assert done.stdout.startswith("refused: event: expected one JSON object") and "for instance" in done.stdout


def test_a_key_that_cannot_be_sent_is_refused():
    """Before any connection."""
    assert_bad_input(tetherline("send", "--event", "{}", "--key", "é", "--to", "http://127.0.0.1:9"), "--key")


def test_serve_says_who_may_do_what_and_keys_hold(there: Path):
    """No keys: everyone on this computer is lead. With keys, `send` needs them, also from the environment."""
    for options, says in (((), "Everyone on this computer is lead"), (("--log-key", "k1", "--lead-key", "k2"), "lead key")):
        command = ["serve", str(there / "plan.toml"), "--port", "0", "--no-browser", *options]
        process = subprocess.Popen(
            [*PYTHON, *command], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        try:
            lines = [process.stdout.readline() for _ in range(3)]
            assert says in lines[1], lines
            to = ("--to", lines[2].split(" at ")[1].split()[0])
            defer = ("send", "--event", '{"kind": "defer", "tasks": ["T020"]}', *to)
            if options:
                refused = tetherline(*defer)
                assert refused.returncode == 2 and "refused: event" in refused.stdout and "lead key" in refused.stdout
                assert tetherline(*defer, environment={"TETHERLINE_KEY": "k1"}).returncode == 2
                assert tetherline(*defer, "--key", "k2").returncode == 0
            else:
                assert tetherline(*defer).returncode == 0
        finally:
            process.terminate()
            process.communicate(timeout=30)
