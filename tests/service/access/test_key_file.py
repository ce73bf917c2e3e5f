"""The key file: keys of people, kept as digests."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.service.access.key_file import add_key, read_key_file, revoke_keys


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "keys.toml"


def test_a_key_is_found_by_itself_and_is_not_in_the_file(path: Path):
    """Neither the key nor its secret half; another key with the same id is none of the file."""
    entry, key = add_key(path, "Ada Lee", "log")
    assert read_key_file(path).entry_of_key(key) == entry
    assert key.partition(".")[2] not in path.read_text()
    for wrong in ("", "x", entry.id, f"{entry.id}.", key[:-1], f"{key}x", key.upper(), f"k00000000.{key.partition('.')[2]}"):
        assert read_key_file(path).entry_of_key(wrong) is None


def test_a_key_has_256_random_bits_and_fits_a_header_and_an_address(path: Path):
    """Two keys of one person differ, and so do their salts."""
    (one, first), (two, second) = add_key(path, "Ada Lee", "log"), add_key(path, "Ada Lee", "log")
    assert re.fullmatch(r"k[0-9a-f]{8}\.[\w-]{43}", first) and first != second and one.salt != two.salt


def test_only_the_owner_may_read_a_new_file(path: Path):
    """And a mode that someone gave it stays."""
    add_key(path, "Ada Lee", "log")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.chmod(0o640)
    add_key(path, "Bo Carr", "log")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_comments_of_people_stay(path: Path):
    """The file is theirs as well."""
    add_key(path, "Ada Lee", "log")
    path.write_text(f"{path.read_text()}\n# night shift\n")
    add_key(path, "Bo Carr", "lead")
    assert "# night shift" in path.read_text() and len(read_key_file(path).entries) == 2


def test_a_person_is_revoked_with_all_keys_and_a_key_by_its_id(path: Path):
    """The entries stay, with the time."""
    ids = [add_key(path, name, "log")[0].id for name in ("Ada Lee", "Ada Lee", "Bo Carr", "Cy Dunn")]
    assert [one.id for one in revoke_keys(path, "Ada Lee")] == ids[:2]
    assert [one.id for one in revoke_keys(path, ids[2])] == [ids[2]]
    assert [one.revoked is not None for one in read_key_file(path).entries] == [True, True, True, False]


@pytest.mark.parametrize("who", ["Zoe", "ada lee", "", "Ada Lee"])
def test_revoking_nobody_is_refused_and_changes_nothing(path: Path, who: str):
    """A wrong name and a key that is already revoked are refused; the error says who is left."""
    add_key(path, "Ada Lee", "log")
    add_key(path, "Bo Carr", "log")
    revoke_keys(path, "Ada Lee")
    before = path.read_bytes()
    with pytest.raises(InputError, match="Not revoked: Bo Carr"):
        revoke_keys(path, who)
    assert path.read_bytes() == before and not path.with_name("keys.toml.new").exists()


@pytest.mark.parametrize("name", ["", " Ada", "Ada\nLee", "Ada\x1b[2J", "Ada‮Lee", "x" * 81])
def test_a_name_must_fit_on_one_line_of_the_log(path: Path, name: str):
    """Nothing is written then."""
    with pytest.raises(InputError, match="option --name"):
        add_key(path, name, "log")
    assert not path.exists()


def test_two_changes_at_one_time_cannot_undo_one_another(path: Path):
    """The second is refused, and says what to do when nobody is at it."""
    add_key(path, "Ada Lee", "log")
    path.with_name("keys.toml.new").touch()
    with pytest.raises(InputError, match=r"remove keys\.toml\.new"):
        revoke_keys(path, "Ada Lee")
    assert read_key_file(path).entries[0].revoked is None


ENTRY = '[[key]]\nid = "k0123abcd"\nname = "Ada"\nrole = "log"\nsalt = "{s}"\ndigest = "{d}"\nadded = 2031-04-12T09:10:00Z\n'
ENTRY = ENTRY.format(s="0" * 32, d="a" * 64)
PASTED = "k0123abcd.thisIsTheKeyItself"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("", "an empty file"),
        (ENTRY + "x = ", "keys.toml:8"),
        (ENTRY.replace('"log"', '"chief"'), "'role': expected 'watch', 'log' or 'lead'; found 'chief'"),
        (ENTRY.replace('name = "Ada"\n', ""), "'name': expected a value; found none"),
        (ENTRY.replace("a" * 64, PASTED), "'digest': expected 64 hexadecimal digits"),
        (ENTRY.replace("a" * 64, "z" * 64), "'digest': expected 64 hexadecimal digits"),
        (ENTRY.replace('"k0123abcd"', f'"{PASTED}"'), "'id'"),
        (ENTRY + f'key = "{PASTED}"\n', "'key': expected no such key"),
        (ENTRY + f"key = {PASTED}!\n", "valid TOML"),
        (ENTRY + ENTRY, "'k0123abcd' a second time"),
        (ENTRY.replace("09:10:00Z", "09:10:00"), "'added'"),
        ('key = "x"', "tables [[key]] alone"),
        ("[plan]\n", "'plan'"),
    ],
)  # fmt: skip
def test_a_file_that_is_not_right_is_refused_with_the_place(path: Path, content: str, says: str):
    """What stands there in the wrong place is not repeated: it may be a key."""
    path.write_text(content)
    with pytest.raises(InputError) as refused:
        read_key_file(path)
    assert says in str(refused.value) and "keys.toml" in str(refused.value)
    assert "thisIsTheKeyItself" not in str(refused.value)
