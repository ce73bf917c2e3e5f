"""`tetherline keys`: the people of a key file."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest

from dashboard.service.access.key_file import read_key_file
from tests.command import assert_bad_input, one_line, tetherline
from tests.local import LOCAL
from tests.serving import Start
from tests.waiting import DEADLINE_S, until


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "keys.toml"


def added(path: Path, name: str, role: str) -> str:
    done = tetherline("keys", "add", path, "--name", name, "--role", role)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_add_prints_the_key_alone_and_once(path: Path):
    """On standard output, so that a script can take it; the words stand on standard error."""
    done = tetherline("keys", "add", path, "--name", "A. Person", "--role", "log")
    (key,) = done.stdout.splitlines()
    (entry,) = read_key_file(path).entries
    assert entry.is_of(key) and (entry.name, entry.role) == ("A. Person", "log")
    assert "will not be shown again" in done.stderr and key not in done.stderr + path.read_text()


def test_list_says_who_is_there_and_who_was_revoked(path: Path):
    """Without digests."""
    added(path, "A. Person", "log")
    added(path, "B. Person", "lead")
    assert "Revoked: k" in tetherline("keys", "revoke", path, "A. Person").stdout
    done = tetherline("keys", "list", path)
    first, second = (one_line(line) for line in done.stdout.splitlines()[1:3])
    ada, bo = read_key_file(path).entries
    assert first.startswith(f"{ada.id} A. Person log 20") and first.count("Z") == 2
    assert second.startswith(f"{bo.id} B. Person lead 20") and second.count("Z") == 1
    assert done.stdout.splitlines()[-1] == "1 key is valid." and bo.digest not in done.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("add", "--name", "", "--role", "log"), "option --name"),
        (("revoke", "Nobody"), "no such file"),
        (("list",), "no such file"),
    ],
)
def test_what_cannot_be_done_is_refused(path: Path, arguments: tuple[str, ...], says: str):
    """With what to do."""
    assert_bad_input(tetherline("keys", arguments[0], path, *arguments[1:]), says)


def test_a_running_server_follows_the_file_and_records_refusals(start: Start, sortie: Path, path: Path):
    """The key file and the record as options; the file also from the environment, as the command says."""
    key = added(path, "A. Person", "log")
    record = sortie / "refused.jsonl"
    process, url = start("serve", sortie / "plan.toml", "--port", "0", "--no-browser", "--keys", path, "--audit", record)
    assert "sign in at /sign-in" in "".join(process.said)
    note = ("send", "--to", url, "--event", '{"kind": "note", "text": "x"}')
    assert tetherline(*note).returncode == 2
    assert tetherline(*note, environment={"TETHERLINE_KEY": key}).returncode == 0
    (row,) = httpx.get(f"{url}/api/events", **LOCAL, timeout=DEADLINE_S).json()
    assert row["by"] == "A. Person"
    until(lambda: '"who": "no key", "refused": "\'note\', id' in record.read_text(), "the refusal in the record")
    tetherline("keys", "revoke", path, "A. Person")
    with httpx.Client(base_url=url, **LOCAL, headers={"Authorization": f"Bearer {key}"}) as client:
        again = {"kind": "note", "text": "y"}
        until(lambda: client.post("/api/events", json=again).status_code == 403, "the revoked key being refused")


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--keys", "nowhere.toml"), "no such file"),
        (("--audit", "nowhere/a"), "option --audit"),
        (("--tls-cert", "nowhere.crt"), "--tls-key beside it"),
        (("--tls-cert", "nowhere.crt", "--tls-key", "nowhere.key"), "option --tls-cert"),
    ],
)
@pytest.mark.parametrize("command", ["serve", "replay"])
def test_serving_with_files_that_are_not_there_is_refused(sortie: Path, command: str, options: tuple[str, ...], says: str):
    """Before any server starts."""
    what = sortie / "plan.toml" if command == "serve" else sortie / "run-1.jsonl"
    assert_bad_input(tetherline(command, what, "--port", "0", "--no-browser", *options), says)
