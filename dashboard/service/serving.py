"""Serves an application at an address of this computer until it is stopped."""

from __future__ import annotations

import contextlib
import errno
import logging
import os
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable, Sequence
from typing import Any

import uvicorn

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.access.certificate import Certificate
from dashboard.service.http.connections import guarded_protocol
from dashboard.service.version import program_version

log = logging.getLogger("tetherline")

LOOPBACK = "127.0.0.1"
LARGEST_SOCKET_MESSAGE_BYTES = 65_536
MOST_CONNECTIONS = 65_536
ANY_HOST = "Leave out --host to serve this computer only, or give 0.0.0.0 to serve other computers too."


def listening_socket(host: str, port: int) -> socket.socket:
    """Bind a socket.

    Parameters
    ----------
    host
        Name or address of this computer.
    port
        0 chooses a free one.

    Returns
    -------
    socket
        Bound; the server starts to listen on it.

    Raises
    ------
    InputError
        When the address is not one of this computer, or the port is in use.
    """
    if not host.strip():
        raise InputError([Problem("option --host", "an address of this computer", "an empty address", ANY_HOST)])
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        sock = socket.socket(family, socket.SOCK_STREAM)
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind((host, port))
        return sock
    except (socket.gaierror, UnicodeError):
        found = f"'{host}', which is not known"
        raise InputError([Problem("option --host", "an address of this computer", found, ANY_HOST)]) from None
    except (OSError, OverflowError) as wrong:
        reason = getattr(wrong, "strerror", None) or str(wrong)
        cure = "Check whether another server uses it. Choose another port with --port, or 0 for a free one."
        if getattr(wrong, "errno", None) == errno.EADDRNOTAVAIL:
            cure = f"This is not an address of this computer. {ANY_HOST}"
        found = f"'{reason}'"
        raise InputError(
            [Problem(f"address {host}:{port}", "a free port of this computer", found, cure)]
        ) from None


def address_of(sock: socket.socket, certificate: Certificate | None = None) -> str:
    """Write the address to open in a browser.

    Parameters
    ----------
    sock
        A bound socket.
    certificate
        None: the server uses plain HTTP.

    Returns
    -------
    str
        With the scheme ``https`` if there is a certificate.
    """
    scheme = "http" if certificate is None else "https"
    host, port = sock.getsockname()[:2]
    if host in ("0.0.0.0", "::"):
        host = LOOPBACK
    return f"{scheme}://[{host}]:{port}" if ":" in host else f"{scheme}://{host}:{port}"


def serve(
    asgi: Any,
    sock: socket.socket,
    *,
    certificate: Certificate | None = None,
    when_up: Callable[[], None] | None = None,
    proxies: Sequence[str] = (),
) -> None:
    """Serve an application until it is interrupted.

    Parameters
    ----------
    asgi
        An ASGI application.
    sock
        A socket of `listening_socket`.
    certificate
        The certificate for HTTPS; None: plain HTTP.
    when_up
        Called once the server answers; None: nothing is called.
    proxies
        Addresses and networks of proxies whose word on the sender of a request counts.
    """
    _allow_many_connections()
    config = uvicorn.Config(
        asgi,
        log_level="warning",
        log_config=None,
        lifespan="on",
        timeout_graceful_shutdown=1,
        ws_max_size=LARGEST_SOCKET_MESSAGE_BYTES,
        ws_per_message_deflate=False,
        http=guarded_protocol(),
        proxy_headers=bool(proxies),  # by default uvicorn believes whoever connects from this computer
        forwarded_allow_ips=list(proxies),
        ssl_certfile=None if certificate is None else certificate.certificate,
        ssl_keyfile=None if certificate is None else certificate.key,
    )
    server = uvicorn.Server(config)

    def up() -> None:
        log.info("Serving at %s.", address_of(sock, certificate), extra={"fields": {"version": program_version()}})
        if when_up is not None:
            when_up()

    threading.Thread(target=_call_when_up, args=(server, up), daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[sock])
    log.info("The server has stopped.")


def _allow_many_connections() -> None:
    """Let this process open as many connections as the system allows."""
    if sys.platform == "win32":
        return
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST_CONNECTIONS if hard == resource.RLIM_INFINITY else min(hard, MOST_CONNECTIONS)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def open_browser(address: str) -> None:
    """Show the board in a browser on this computer, if it has one with a screen. Failures are ignored.

    Parameters
    ----------
    address
        The address of the board.
    """
    if sys.platform == "linux" and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return
    with contextlib.suppress(Exception):
        webbrowser.open(address)


def _call_when_up(server: uvicorn.Server, when_up: Callable[[], None]) -> None:
    while not server.started:
        if server.should_exit:
            return
        time.sleep(0.02)
    when_up()
