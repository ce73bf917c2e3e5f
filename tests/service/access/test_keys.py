"""The keys of a server, and the sign-ins that they give."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.key_file import add_key, revoke_keys
from dashboard.service.access.keys import SIGNED_IN_S, Keys, signing_bytes

NOW_S = 2_000_000_000.0


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "keys.toml"


def keys_of(path: Path, log: str | None = None, lead: str | None = None) -> Keys:
    return Keys(log, lead, FollowedKeyFile(path))


@pytest.mark.parametrize("role", ["watch", "log", "lead"])
def test_a_key_of_the_file_gives_its_role_and_name(path: Path, role):
    """Whoever shows none watches, whatever the file holds."""
    _, key = add_key(path, "Ada Lee", role)
    keys = keys_of(path)
    visitor = keys.visitor(keys.pass_of_key(key), NOW_S)
    assert (visitor.role, visitor.name, visitor.called, visitor.why) == (role, "Ada Lee", "Ada Lee", "")
    assert keys.visitor(None, NOW_S).role == "watch" and keys.pass_of_key("wrong") is None


def test_beside_a_key_file_the_log_key_never_decides(path: Path):
    """And what is entered with it is told apart from what people enter."""
    add_key(path, "Ada Lee", "watch")
    keys = keys_of(path, log="log-key-1")
    visitor = keys.visitor(keys.pass_of_key("log-key-1"), NOW_S)
    assert (visitor.role, visitor.name) == ("log", "the log key")
    only_lead = keys_of(path, lead="lead-key-2")
    assert only_lead.visitor(None, NOW_S).role == "watch"
    assert only_lead.visitor(only_lead.pass_of_key("lead-key-2"), NOW_S).role == "lead"


def test_a_sign_in_stands_for_the_key_until_it_runs_out(path: Path):
    """It holds neither the key nor its digest; then it says what happened, and whose it was."""
    entry, key = add_key(path, "Ada Lee", "log")
    keys = keys_of(path)
    statement = keys.sign_in(keys.pass_of_key(key), NOW_S)
    assert key.partition(".")[2] not in statement and entry.digest not in statement
    shown = keys.pass_of_sign_in(statement)
    last = keys.visitor(shown, NOW_S + SIGNED_IN_S - 1)
    assert (last.role, last.name, last.until.timestamp()) == ("log", "Ada Lee", NOW_S + SIGNED_IN_S)
    after = keys.visitor(shown, NOW_S + SIGNED_IN_S)
    assert (after.role, after.called, after.why) == ("watch", "Ada Lee", "the sign-in has expired")


def test_nobody_can_make_or_change_a_sign_in(path: Path):
    """A letter that is changed anywhere, another server's, and what is no sign-in at all."""
    _, key = add_key(path, "Ada Lee", "log")
    keys = keys_of(path)
    statement = keys.sign_in(keys.pass_of_key(key), NOW_S)
    for place in range(0, len(statement) - 1):  # the last letter of a signature holds bits that do not count
        other = "A" if statement[place] != "A" else "B"
        assert keys.pass_of_sign_in(statement[:place] + other + statement[place + 1 :]) is None
    assert Keys("log-key-1").pass_of_sign_in(statement) is None
    assert [keys.pass_of_sign_in(one) for one in ("", ".", "x.y", "é", "W10.x")] == [None] * 5


def test_revoking_a_key_ends_its_sign_ins(path: Path):
    """Of that person alone, without a restart."""
    (_, ada), (_, bo) = add_key(path, "Ada Lee", "log"), add_key(path, "Bo Carr", "lead")
    keys = keys_of(path)
    shown = [keys.pass_of_sign_in(keys.sign_in(keys.pass_of_key(key), NOW_S)) for key in (ada, bo)]
    revoke_keys(path, "Ada Lee")
    keys.people.look()
    revoked, kept = (keys.visitor(one, NOW_S) for one in shown)
    assert (revoked.role, revoked.called, revoked.why) == ("watch", "Ada Lee", "this key was revoked")
    assert (kept.role, kept.why) == ("lead", "")


def test_a_sign_in_does_not_count_for_another_key_of_the_same_id(path: Path):
    """The entry was replaced by hand, or removed."""
    entry, key = add_key(path, "Ada Lee", "lead")
    keys = keys_of(path)
    shown = keys.pass_of_key(key)
    path.write_text(path.read_text().replace(entry.digest, "0" * 64))
    keys.people.look()
    assert keys.visitor(shown, NOW_S).role == "watch"
    path.write_text("# nobody\n")
    keys.people.look()
    assert "no longer known" in keys.visitor(shown, NOW_S).why


def test_a_new_role_counts_for_who_is_signed_in(path: Path):
    """The sign-in names the key, not the role."""
    _, key = add_key(path, "Ada Lee", "lead")
    keys = keys_of(path)
    shown = keys.pass_of_sign_in(keys.sign_in(keys.pass_of_key(key), NOW_S))
    path.write_text(path.read_text().replace('"lead"', '"log"'))
    keys.people.look()
    assert keys.visitor(shown, NOW_S).role == "log"


def test_sign_ins_outlive_the_server(path: Path):
    """With a key file; with a log key and a lead key as long as both stay the same."""
    _, key = add_key(path, "Ada Lee", "log")
    first, again = keys_of(path), keys_of(path)
    signed_in = first.sign_in(first.pass_of_key(key), NOW_S)
    assert again.pass_of_sign_in(signed_in) == first.pass_of_sign_in(signed_in) is not None
    before = Keys("log-key-1", "lead-key-2")
    statement = before.sign_in(before.pass_of_key("log-key-1"), NOW_S)
    assert Keys("log-key-1", "lead-key-2").pass_of_sign_in(statement) is not None
    assert Keys("log-key-1", "lead-key-3").pass_of_sign_in(statement) is None


def test_what_signs_is_kept_beside_the_key_file_for_its_owner_alone(path: Path):
    """Removing it ends every sign-in; a file that holds something else is left, and the server says so."""
    signing = path.with_name("keys.toml.signing")
    first = signing_bytes(path)
    assert signing.stat().st_mode & 0o777 == 0o600 and signing_bytes(path) == first
    assert [one.name for one in path.parent.iterdir()] == ["keys.toml.signing"]
    signing.unlink()
    assert signing_bytes(path) != first


def test_where_what_signs_cannot_be_kept_it_is_said(path: Path, caplog: pytest.LogCaptureFixture):
    """It is never weak: random for this server."""
    path.with_name("keys.toml.signing").write_bytes(b"short")
    assert len(signing_bytes(path)) == 32 and signing_bytes(path) != signing_bytes(path)
    assert "Sign-ins end when this server ends" in caplog.text
    assert len(signing_bytes(path.parent / "nowhere" / "keys.toml")) == 32


def test_only_keys_that_people_chose_are_left_out_while_an_address_waits(path: Path):
    """A key of the file cannot be guessed."""
    _, key = add_key(path, "Ada Lee", "log")
    keys = keys_of(path, log="log-key-1")
    assert keys.pass_of_key("log-key-1", chosen=False) is None
    assert keys.pass_of_key(key, chosen=False) == keys.pass_of_key(key)


def test_a_sign_in_that_was_signed_out_counts_no_more(path: Path):
    """For whoever still has its statement; other sign-ins with the same key, and the key itself, go on."""
    _, key = add_key(path, "Ada Lee", "log")
    keys = keys_of(path)
    one, other = (keys.pass_of_sign_in(keys.sign_in(keys.pass_of_key(key), NOW_S)) for _ in range(2))
    keys.sign_out(one, NOW_S + 1)
    keys.sign_out(keys.pass_of_key(key), NOW_S + 1)
    assert (keys.visitor(one, NOW_S + 2).role, keys.visitor(one, NOW_S + 2).why) == ("watch", "this sign-in was signed out")
    assert keys.visitor(other, NOW_S + 2).role == keys.visitor(keys.pass_of_key(key), NOW_S + 2).role == "log"


def test_what_was_signed_out_counts_nowhere_with_the_same_key_file(path: Path):
    """At another server at once, and at one that is started later; with one key per role, at this server."""
    _, key = add_key(path, "Ada Lee", "log")
    first, other = keys_of(path), keys_of(path)
    statement = first.sign_in(first.pass_of_key(key), NOW_S)
    assert other.visitor(other.pass_of_sign_in(statement), NOW_S + 1).role == "log"
    first.sign_out(first.pass_of_sign_in(statement), NOW_S + 1)
    for server in (first, other, keys_of(path)):
        assert server.visitor(server.pass_of_sign_in(statement), NOW_S + 2).why == "this sign-in was signed out"
    shared = Keys("log-key-1", "lead-key-2")
    shown = shared.pass_of_sign_in(shared.sign_in(shared.pass_of_key("lead-key-2"), NOW_S))
    shared.sign_out(shown, NOW_S + 1)
    assert shared.visitor(shown, NOW_S + 2).why == "this sign-in was signed out"

