"""The keys of a server, and the sign-ins that they give.

Rules of this file
------------------
1. A key gives a role. With a key file (`dashboard.service.access.key_file`) each key has its role, and a visitor without a
   key has the role watch.
2. Without a key file, a role without a key of its own is open to everyone who has the role below it. With no keys everyone
   is lead. With a lead key alone everyone may log. With a log key alone its holder is lead.
3. Keys are compared in constant time, and kept as digests only.
4. A sign-in is a signed statement of the server, kept by the browser: which key was shown, and until when it counts. It
   holds neither the key nor a digest of it. A key that is revoked or replaced ends the sign-ins made with it.
5. The secret that signs them is kept beside the key file (`FILE.signing`), so that sign-ins outlast a restart of the server.
   Without a key file the secret is derived from the log key and the lead key, by a slow function, since people may have
   chosen these keys.
6. A sign-in that was signed out no longer counts, also if somebody copied its cookie (`sign_outs`). With a key file this is
   remembered in a folder beside it (`FILE.signed-out`), which all servers with this key file see, also after a restart. Without
   one each server remembers it for itself, until it ends.
"""

from __future__ import annotations

import hashlib
import hmac
import logging
import os
import secrets
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from itsdangerous import BadSignature, URLSafeSerializer

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.roles import Role, Visitor
from dashboard.service.access.sign_outs import SignOuts

SIGNED_IN_S = 12 * 3600
LOG, LEAD = "log", "lead"  # the ids of the two keys that no file holds
SIGNING_BYTES = 32
SESSION_BYTES = 12

log = logging.getLogger("tetherline")


class Pass(NamedTuple):
    """Which key was shown.

    Parameters
    ----------
    key_id : str
        `LOG`, `LEAD`, or the id of an entry of the key file.
    mark : str
        Distinguishes the key from another one with the same id.
    until_s : int or None
        When the sign-in expires, as Unix time; None: the key itself was shown.
    session : str
        Distinguishes the sign-in from others with the same key; empty: the key itself was shown.
    """

    key_id: str
    mark: str
    until_s: int | None = None
    session: str = ""


class Keys:
    """The keys of a server.

    Parameters
    ----------
    log_key, lead_key : str or None
        None: the role has no key of its own.
    people : FollowedKeyFile or None
        The keys of people; None: there is no key file.

    Raises
    ------
    InputError
        When a key cannot be sent in an address or a header, or both keys are the same.
    """

    def __init__(
        self, log_key: str | None = None, lead_key: str | None = None, people: FollowedKeyFile | None = None
    ) -> None:
        given = {LOG: log_key, LEAD: lead_key}
        for name, key in given.items():
            if key is not None and not (key and key.isascii() and key.isprintable() and " " not in key):
                found = "an empty key" if not key else "a key with spaces or other characters"
                cure = "Use letters, digits and signs without spaces. Choose a long key that is hard to guess."
                raise InputError([Problem(f"the {name} key", "printable ASCII characters", found, cure)])
        if log_key is not None and log_key == lead_key:
            cure = "Give each role its own key."
            raise InputError([Problem("the lead key", "a key other than the log key", "the same key", cure)])
        self._shared = {name: _digest(key) for name, key in given.items() if key is not None}
        self.people = people
        self._signed_out = SignOuts(None if people is None else beside(people.path, "signed-out"))
        self._signing = self._made_signing()

    @property
    def any(self) -> bool:
        """Whether there is a log key, a lead key or a key file."""
        return bool(self._shared) or self.people is not None

    @property
    def trouble(self) -> str | None:
        """Why the key file cannot be read, and which keys count meanwhile; None: it can be read, or there is none."""
        return None if self.people is None else self.people.trouble

    def in_words(self, others: bool) -> str:
        """Who may do what, as the server says when it starts.

        Parameters
        ----------
        others : bool
            Whether other computers are served.

        Returns
        -------
        str
            One or two sentences.
        """
        if not self.any:
            reach = "Everyone who can reach it" if others else "Everyone on this computer"
            cure = " Give --keys, or --log-key and --lead-key, to change that." if others else ""
            return f"{reach} is lead and may enter events and record decisions.{cure}"
        if self.people is not None:
            beside = "".join(f", or the {name} key" for name in self._shared)
            key = f"a key of {self.people.path}{beside}"
            return f"Reading is open to everyone; entering events and decisions needs {key}: sign in at /sign-in."
        log_by = "everyone" if LOG not in self._shared else "whoever signs in at /sign-in with the log key"
        lead_by = "the lead key" if LEAD in self._shared else "the log key"
        return f"Reading is open to everyone; events are entered by {log_by}; decisions need {lead_by}."

    # -- what is shown

    def pass_of_key(self, key: str, *, chosen: bool = True) -> Pass | None:
        """The pass that a key gives.

        Parameters
        ----------
        key : str
            The key that was shown.
        chosen : bool
            Whether the key is also compared with the log key and the lead key. A person chose these, so they could be
            guessed; a key of the file cannot.

        Returns
        -------
        Pass or None
            Also for a revoked key of the file; None: the key is unknown.
        """
        if chosen:
            token = _digest(key)
            for name, digest in self._shared.items():
                if hmac.compare_digest(token, digest):
                    return Pass(name, self._mark(digest))
        entry = None if self.people is None else self.people.now.entry_of_key(key)
        return None if entry is None else Pass(entry.id, self._mark(entry.digest))

    def sign_in(self, shown: Pass, now_s: float) -> str:
        """A signed statement that a key was shown, for a cookie.

        Parameters
        ----------
        shown
            The pass that the key gave.
        now_s
            The moment of the sign-in, as Unix time; the statement counts for `SIGNED_IN_S` from then on.

        Returns
        -------
        str
            Text that can be sent in a cookie.
        """
        return self._signer.dumps(
            [shown.key_id, shown.mark, int(now_s) + SIGNED_IN_S, secrets.token_urlsafe(SESSION_BYTES)]
        )

    def sign_out(self, shown: Pass, now_s: float) -> None:
        """End a sign-in: its statement no longer counts here, nor at other servers with the same key file.

        Parameters
        ----------
        shown
            The pass that the statement gives.
        now_s
            The moment, as Unix time.
        """
        if shown.until_s is not None:
            self._signed_out.add(shown.session, shown.until_s, now_s)

    def pass_of_sign_in(self, statement: str) -> Pass | None:
        """The pass that the statement of a sign-in gives.

        Parameters
        ----------
        statement
            Text from `sign_in`.

        Returns
        -------
        Pass or None
            Also when the sign-in has expired; None: this server did not sign the statement.
        """
        try:
            key_id, mark, until_s, session = self._signer.loads(statement)
        except (BadSignature, ValueError, TypeError):
            return None
        return Pass(key_id, mark, until_s, session)

    def visitor(self, shown: Pass | None, now_s: float) -> Visitor:
        """Who shows a pass, and what they may do now.

        Parameters
        ----------
        shown
            The pass of a key or of a sign-in; None: nothing was shown.
        now_s
            The moment, as Unix time.

        Returns
        -------
        Visitor
            With the role open to everyone, and the reason, when the key is unknown or revoked or the sign-in has expired.
        """
        open_role = self._open_role()
        if shown is None or not self.any:
            return Visitor(open_role)
        found = self._holder(shown.key_id)
        if found is None or found.mark != shown.mark:
            return Visitor(open_role, why="the key that was shown is no longer known here")
        named = Visitor(found.role, found.name, found.key, until=_instant(shown.until_s))
        if found.revoked:
            return Visitor(open_role, named.name, named.key, "this key was revoked")
        if shown.until_s is not None and shown.until_s <= now_s:
            return Visitor(open_role, named.name, named.key, "the sign-in has expired")
        if shown.until_s is not None and self._signed_out.holds(shown.session, shown.until_s):
            return Visitor(open_role, named.name, named.key, "this sign-in was signed out")
        return named

    # -- inside

    def _open_role(self) -> Role:
        """The role of a visitor without a key."""
        if not self.any:
            return "lead"
        return "log" if self.people is None and LOG not in self._shared else "watch"

    def _holder(self, key_id: str) -> _Holder | None:
        """Who holds the key with this id now; None: nobody."""
        if key_id in self._shared:
            alone = self.people is None and LEAD not in self._shared
            role: Role = "lead" if key_id == LEAD or alone else "log"
            called = f"the {key_id} key"
            name = "" if self.people is None else called  # with a key file people have names: the shared key needs one too
            return _Holder(role, name, called, self._mark(self._shared[key_id]), False)
        entry = None if self.people is None else self.people.now.entry(key_id)
        if entry is None:
            return None
        return _Holder(entry.role, entry.name, f"key {entry.id}", self._mark(entry.digest), entry.revoked is not None)

    def _mark(self, digest: str) -> str:
        """Distinguishes keys; a cookie with it reveals nothing about the key."""
        return hmac.new(self._signing, digest.encode(), hashlib.sha256).hexdigest()[:16]

    @cached_property
    def _signer(self) -> URLSafeSerializer:
        return URLSafeSerializer(self._signing, salt="sign-in", signer_kwargs={"digest_method": hashlib.sha256})

    def _made_signing(self) -> bytes:
        """The secret that signs sign-ins."""
        if self.people is not None:
            return signing_bytes(self.people.path)
        if not self._shared:
            return secrets.token_bytes(SIGNING_BYTES)
        shared = "\n".join(f"{name}:{digest}" for name, digest in sorted(self._shared.items()))
        return hashlib.scrypt(shared.encode(), salt=b"tetherline sign-in", n=2**14, r=8, p=1, dklen=SIGNING_BYTES)


class _Holder(NamedTuple):
    role: Role
    name: str
    key: str
    mark: str
    revoked: bool


def beside(key_file: Path, what: str) -> Path:
    """Name what is kept beside a key file.

    Parameters
    ----------
    key_file
        A link is followed.
    what
        The ending that is added to its name.

    Returns
    -------
    Path
        In the folder of the file itself.
    """
    path = Path(os.path.realpath(key_file))
    return path.with_name(f"{path.name}.{what}")


def signing_bytes(key_file: Path) -> bytes:
    """The secret that signs sign-ins, from `FILE.signing` beside the key file; the file is made if it does not exist.

    When the file can be neither read nor made, the secret is random, and a warning says that sign-ins end with this server.

    Parameters
    ----------
    key_file
        The key file; a link is followed.

    Returns
    -------
    bytes
        `SIGNING_BYTES` of them.
    """
    path = beside(key_file, "signing")
    made = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    fresh = secrets.token_bytes(SIGNING_BYTES)
    try:
        with os.fdopen(os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
            stream.write(fresh)
            stream.flush()
            os.fsync(stream.fileno())
        try:
            os.link(made, path)  # fails if the file exists: two servers that start at the same time use the same secret
        except FileExistsError:
            fresh = path.read_bytes()
        finally:
            made.unlink()
        if len(fresh) == SIGNING_BYTES:
            return fresh
        why = f"{len(fresh)} bytes instead of {SIGNING_BYTES}"
    except OSError as wrong:
        why = str(wrong.strerror or wrong)
    log.warning("The secret that signs sign-ins cannot be kept in %s (%s). Sign-ins end when this server ends.", path, why)
    return secrets.token_bytes(SIGNING_BYTES)


def _instant(unix_s: int | None) -> datetime | None:
    return None if unix_s is None else datetime.fromtimestamp(unix_s, UTC)


def _digest(key: str) -> str:
    """Digest of a chosen key, kept in memory in place of the key."""
    return hashlib.sha256(f"tetherline:{key}".encode("utf-8", "surrogateescape")).hexdigest()
