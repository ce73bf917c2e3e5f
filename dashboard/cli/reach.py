"""Where and whom a command serves, and how: the names it answers to, keys, TLS, and where refusals are recorded."""

from __future__ import annotations

import socket
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from dashboard.service.access.audit import Audit
from dashboard.service.access.certificate import Certificate, checked_certificate
from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.keys import Keys
from dashboard.service.http.gate import checked_reach, hosts_of
from dashboard.service.serving import address_of, listening_socket


class Reach(NamedTuple):
    """Where and whom it serves, and how.

    Parameters
    ----------
    sock : socket
        Where it listens.
    hosts : frozenset of str or None
        The names it answers to; None: any.
    serves_others : bool
        Whether other computers are served.
    keys : Keys
    certificate : Certificate or None
        None: plain HTTP.
    audit : Audit
    """

    sock: socket.socket
    hosts: frozenset[str] | None
    serves_others: bool
    keys: Keys
    certificate: Certificate | None
    audit: Audit

    @property
    def address(self) -> str:
        """The address to open in a browser."""
        return address_of(self.sock, self.certificate)

    def in_words(self) -> str:
        """Who may do what."""
        return self.keys.in_words(others=self.serves_others)


def checked(
    host: str,
    port: int,
    names: Sequence[str] | None,
    *,
    key_file: Path | None = None,
    log_key: str | None = None,
    lead_key: str | None = None,
    audit: Path | None = None,
    tls_cert: Path | None = None,
    tls_key: Path | None = None,
) -> Reach:
    """What the options of a command say.

    Raises
    ------
    InputError
        When the address cannot be had, an option cannot be used, or others would be served who could then all decide.
    """
    sock = listening_socket(host, port)
    keys = Keys(log_key, lead_key, None if key_file is None else FollowedKeyFile(key_file))
    hosts = checked_reach(host, names or [], keys)
    certificate = checked_certificate(tls_cert, tls_key)
    return Reach(sock, hosts, hosts_of(host) is None, keys, certificate, Audit(audit))
