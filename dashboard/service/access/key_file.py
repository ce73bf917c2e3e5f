"""The key file: the people who may enter events or decide, with a digest of each person's key.

Rules of this file
------------------
1. A key is made here from 256 random bits, and shown once. The file holds a digest only, so reading the file gives no key.
2. The digest is HMAC-SHA-256 of the key with its own salt. A slow digest, such as scrypt, protects words that people choose,
   since those can be guessed. It is not needed here: 256 random bits cannot be guessed. It would also let anyone keep the
   server busy with wrong keys.
3. A key begins with the id of its entry. One digest is computed for each key that is shown, however many people there are.
4. A revoked entry stays in the file, with the time of revocation.
5. A change writes a new file `FILE.new`, which then replaces the old one in one step. While `FILE.new` exists, nobody else
   may change the file, so two changes at the same time cannot undo one another.
"""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import os
import re
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import tomlkit
from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.kinds import complaint
from dashboard.log.planfile import read_toml
from dashboard.log.textfile import decoded, read_file, refusal
from dashboard.log.toml_lines import line_numbers
from dashboard.service.access.roles import Role

WHAT = "a key file (TOML)"
LARGEST_MB = 1.0
LONGEST_NAME = 80
HEAD = (
    "Who may enter events and decide. Made by `tetherline keys`; the keys themselves are not in here.",
    "A server that runs with this file reads it again as soon as it changes.",
)


def _as_name(name: str) -> str:
    if not name.strip() or name != name.strip() or not name.isprintable() or len(name) > LONGEST_NAME:
        raise ValueError(f"a name on one line, of at most {LONGEST_NAME} characters, with no blanks at its ends")
    return name


def _hex(count: int) -> AfterValidator:
    def checked(digits: str) -> str:
        if not re.fullmatch(f"[0-9a-f]{{{count}}}", digits):
            raise ValueError(f"{count} hexadecimal digits, as `tetherline keys add` writes them")
        return digits

    return AfterValidator(checked)


class KeyEntry(BaseModel):
    """One key of the file."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    id: str = Field(pattern=r"^k[0-9a-f]{8}$")
    name: Annotated[str, AfterValidator(_as_name)]
    role: Role
    salt: Annotated[str, _hex(32)]
    digest: Annotated[str, _hex(64)]
    added: AwareDatetime
    revoked: AwareDatetime | None = None

    def is_of(self, key: str) -> bool:
        """Whether this is the entry of a key. The comparison takes the same time for every key.

        Parameters
        ----------
        key
            The key that was shown.

        Returns
        -------
        bool
            True also for a revoked entry.
        """
        return hmac.compare_digest(_digest(self.salt, key), self.digest)


@dataclass(frozen=True)
class KeyFile:
    """Content of a key file.

    Parameters
    ----------
    entries : tuple of KeyEntry
        In the order of the file.
    content : bytes
        The file as it was read.
    """

    entries: tuple[KeyEntry, ...]
    content: bytes

    def entry(self, key_id: str) -> KeyEntry | None:
        """The entry with an id.

        Parameters
        ----------
        key_id
            ``k`` and eight hexadecimal digits.

        Returns
        -------
        KeyEntry or None
            Revoked entries included; None: the file has no such id.
        """
        return next((one for one in self.entries if one.id == key_id), None)

    def entry_of_key(self, key: str) -> KeyEntry | None:
        """The entry of a key.

        Parameters
        ----------
        key
            The key that was shown.

        Returns
        -------
        KeyEntry or None
            Revoked entries included; None: the key is not in this file.
        """
        entry = self.entry(key.partition(".")[0])
        return entry if entry is not None and entry.is_of(key) else None


def read_key_file(path: Path) -> KeyFile:
    """Read a key file.

    Parameters
    ----------
    path
        The TOML file.

    Returns
    -------
    KeyFile
        Entries and bytes of the file.

    Raises
    ------
    InputError
        When the file cannot be read, or an entry is wrong; with a problem for each wrong field.
    """
    content = read_file(path, WHAT, LARGEST_MB)
    text = decoded(path, WHAT, content)
    tables = _tables(text, path)
    listed = tables.get("key", [])
    if set(tables) - {"key"} or not isinstance(listed, list) or not all(isinstance(one, dict) for one in listed):
        found = ", ".join(f"'{name}'" for name in tables if name != "key") or "'key' as something else"
        raise refusal(path, f"{WHAT} with tables [[key]] alone", found, "Write it with: tetherline keys add")
    lines = line_numbers(text)
    entries: list[KeyEntry] = []
    problems: list[Problem] = []
    for number, table in enumerate(listed):
        where = f"{path}:{lines.get(('key', number), 1)}"
        try:
            entry = KeyEntry.model_validate(table)
        except ValidationError as wrong:
            problems += [_problem(table, number, error, where) for error in wrong.errors()]
            continue
        if any(one.id == entry.id for one in entries):
            cure = "Remove one of the two, or add the key again with: tetherline keys add"
            problems.append(Problem(f"key {number + 1}, 'id'", "an id of its own", f"'{entry.id}' a second time", cure, where))
        entries.append(entry)
    if problems:
        raise InputError(problems)
    return KeyFile(tuple(entries), content)


def _tables(text: str, path: Path) -> dict[str, Any]:
    """The tables of the file. A problem does not quote the broken line, since it may hold a key."""
    try:
        return read_toml(text, path, WHAT)
    except InputError as wrong:
        first = wrong.problems[0]
        raise InputError([replace(first, found="a line that is not TOML", cure="Correct the line.")]) from None


def add_key(path: Path, name: str, role: Role) -> tuple[KeyEntry, str]:
    """Make a key for a person and add it to the file; the file is created if it does not exist.

    Parameters
    ----------
    path
        The key file.
    name
        Name of the person.
    role
        What the key gives the right to do.

    Returns
    -------
    tuple of KeyEntry and str
        The entry, and the key, which is kept nowhere.

    Raises
    ------
    InputError
        When the name cannot be used, or the file cannot be read or written.
    """
    key_id = f"k{secrets.token_hex(4)}"
    key, salt = f"{key_id}.{secrets.token_urlsafe(32)}", secrets.token_hex(16)
    table = {"id": key_id, "name": name, "role": role, "salt": salt, "digest": _digest(salt, key), "added": _now()}
    try:
        entry = KeyEntry.model_validate(table)
    except ValidationError as wrong:
        cure = 'For instance --name "A. Person".'
        raise InputError([_said(f"option --{error['loc'][0]}", error, cure) for error in wrong.errors()]) from None

    def enter(document: tomlkit.TOMLDocument) -> None:
        added = tomlkit.table()
        added.update(table)
        document.setdefault("key", tomlkit.aot()).append(added)

    _change(path, enter, may_be_new=True)
    return entry, key


def revoke_keys(path: Path, who: str) -> list[KeyEntry]:
    """Revoke one key by its id, or all keys of a person by the name.

    Parameters
    ----------
    path
        The key file.
    who
        Id of a key, or name of a person.

    Returns
    -------
    list of KeyEntry
        The entries revoked by this call.

    Raises
    ------
    InputError
        When no entry has this id or name, all of them are already revoked, or the file cannot be read or written.
    """
    revoked: list[KeyEntry] = []

    def revoke(document: tomlkit.TOMLDocument) -> None:
        tables: Sequence[Any] = document.get("key", [])
        meant = [table for table in tables if who in (str(table["id"]), str(table["name"]))]
        standing = [table for table in meant if "revoked" not in table]
        if not standing:
            names = sorted({str(table["name"]) for table in tables if "revoked" not in table})
            found = f"'{who}', already revoked" if meant else f"'{who}'"
            cure = f"Not revoked: {', '.join(names)}." if names else "Every key of this file is already revoked."
            raise InputError([Problem("keys revoke", "the id of a key or the name of a person", found, cure, str(path))])
        for table in standing:
            table["revoked"] = _now()
            revoked.append(KeyEntry.model_validate(table.unwrap()))

    _change(path, revoke, may_be_new=False)
    return revoked


def _change(path: Path, change: Callable[[tomlkit.TOMLDocument], None], *, may_be_new: bool) -> None:
    """Replace the file with a changed one in one step; only one process at a time can do so."""
    path = Path(os.path.realpath(path))  # a link stays a link
    new = path.with_name(f"{path.name}.new")
    try:
        file = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        cure = f"Try again. If nobody else is changing the file, remove {new.name} first."
        expected, found = "no other change in progress", f"the file {new.name}"
        raise InputError([Problem(f"file {path.name}", expected, found, cure, str(path))]) from None
    except OSError as wrong:
        raise refusal(path, "a place to write the keys", str(wrong.strerror), "Choose another folder.") from None
    try:
        with os.fdopen(file, "wb") as stream:
            document = _document(path, may_be_new=may_be_new)
            change(document)
            stream.write(tomlkit.dumps(document).encode())
            stream.flush()
            os.fsync(stream.fileno())
        with contextlib.suppress(OSError):  # the file keeps its mode
            os.chmod(new, path.stat().st_mode & 0o777)
        new.replace(path)
    except OSError as wrong:
        raise refusal(path, "a place to write the keys", str(wrong.strerror), "Is the disk full?") from None
    finally:
        new.unlink(missing_ok=True)


def _document(path: Path, *, may_be_new: bool) -> tomlkit.TOMLDocument:
    if may_be_new and not path.exists():
        document = tomlkit.document()
        for line in HEAD:
            document.add(tomlkit.comment(line))
        return document
    return tomlkit.parse(read_key_file(path).content.decode("utf-8-sig"))


def _digest(salt: str, key: str) -> str:
    return hmac.new(bytes.fromhex(salt), key.encode("utf-8", "surrogateescape"), hashlib.sha256).hexdigest()


def _now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)


def _problem(table: Any, number: int, error: Any, where: str) -> Problem:
    """What is wrong with an entry. Only names and roles are quoted: any other field may hold a key."""
    field = str(error["loc"][0])
    name = table.get("name")
    who = f" of {name}" if isinstance(name, str) and name.isprintable() and len(name) <= LONGEST_NAME else ""
    cure = "Correct it, or add the key again with: tetherline keys add"
    said = replace(_said(f"key {number + 1}{who}, '{field}'", error, cure), where=where)
    return said if field in ("name", "role") or field not in table else replace(said, found="something else")


def _said(subject: str, error: Any, cure: str) -> Problem:
    expected, _, found = complaint(error).removeprefix("expected ").partition("; found ")
    return Problem(subject, expected, found or repr(error.get("input"))[:LONGEST_NAME], cure)
