"""How a command serves: the address, the names it answers to, keys, TLS, and the record of refusals."""

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
    """How a command serves.

    Parameters
    ----------
    sock : socket
        The socket on which it listens.
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
        """Who may enter events and record decisions, in words."""
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
    """Check the options of a command that serves.

    Parameters
    ----------
    host : str
        Address to serve on.
    port : int
        0 takes a free port.
    names : sequence of str or None
        Names by which other computers reach this one.
    key_file : Path or None
    log_key, lead_key : str or None
    audit : Path or None
        File for the record of refusals.
    tls_cert, tls_key : Path or None

    Returns
    -------
    Reach

    Raises
    ------
    InputError
        When the address is in use, when an option cannot be used, or when other computers would be served without keys.
    """
    sock = listening_socket(host, port)
    keys = Keys(log_key, lead_key, None if key_file is None else FollowedKeyFile(key_file))
    hosts = checked_reach(host, names or [], keys)
    certificate = checked_certificate(tls_cert, tls_key)
    return Reach(sock, hosts, hosts_of(host) is None, keys, certificate, Audit(audit))
