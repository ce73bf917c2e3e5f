"""Checks the options of a command that serves: address, names, keys, TLS, and the record of refusals."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from dashboard.core.base.problems import InputError, Problem
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
    sock
        The socket on which it listens.
    hosts
        Host names that requests may use; None: any.
    serves_others
        Whether other computers are served.
    keys
        Who may do what.
    certificate
        The certificate for HTTPS; None: plain HTTP.
    audit
        Records refusals.
    proxies
        Addresses and networks of the proxies whose word on the sender counts.
    """

    sock: socket.socket
    hosts: frozenset[str] | None
    serves_others: bool
    keys: Keys
    certificate: Certificate | None
    audit: Audit
    proxies: tuple[str, ...]

    @property
    def address(self) -> str:
        """The address to open in a browser."""
        return address_of(self.sock, self.certificate)

    def in_words(self) -> str:
        """Say who may enter events and record decisions."""
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
    proxies: Sequence[str] | None = None,
) -> Reach:
    """Check the options of a command that serves.

    Parameters
    ----------
    host
        Address to serve on.
    port
        0 takes a free port.
    names
        Names by which other computers reach this one; None: no names.
    key_file
        The key file; None: there is none.
    log_key, lead_key
        Keys of the roles log and lead; None: the role has no such key.
    audit
        File for the record of refusals; None: standard error only.
    tls_cert, tls_key
        Certificate and private key for HTTPS, given together; None: plain HTTP.
    proxies
        Addresses and networks of proxies before this server; None: there are none.

    Returns
    -------
    Reach
        With a bound socket.

    Raises
    ------
    InputError
        When the address is in use, when an option cannot be used, or when other computers would be served without keys.
    """
    proxied = tuple(checked_proxy(one) for one in proxies or ())
    sock = listening_socket(host, port)
    keys = Keys(log_key, lead_key, None if key_file is None else FollowedKeyFile(key_file))
    hosts = checked_reach(host, names or [], keys)
    certificate = checked_certificate(tls_cert, tls_key)
    return Reach(sock, hosts, hosts_of(host) is None, keys, certificate, Audit(audit), proxied)


def checked_proxy(given: str) -> str:
    """Check the address or network of a proxy.

    Parameters
    ----------
    given
        An IP address, or a network such as 10.0.0.0/8.

    Returns
    -------
    str
        As it was given.

    Raises
    ------
    InputError
        When it is neither.
    """
    try:
        ipaddress.ip_network(given, strict=False)
    except ValueError:
        cure = "For instance --proxy 127.0.0.1 for a proxy on this computer."
        raise InputError([Problem("option --proxy", "an IP address or network", f"'{given}'", cure)]) from None
    return given
