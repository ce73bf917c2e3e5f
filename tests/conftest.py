"""What holds for every test: it stays on this computer."""

from __future__ import annotations

import gc
import ipaddress
import os
import socket
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings

from tests.postgres import own_postgres as own_postgres  # fixtures for every test
from tests.postgres import postgres as postgres

# The same examples at every run, so that a change is judged and not the luck of the day; no time of one example is
# asserted. HYPOTHESIS_PROFILE=explore looks at new ones.
settings.register_profile("steady", derandomize=True, deadline=None, max_examples=20)
settings.register_profile("explore", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files of the browser come first: they are the longest, and none of them should begin when all others are through."""
    items.sort(key=lambda item: "browser" not in item.path.parts)


def pytest_collection_finish() -> None:
    """What the collection made lives as long as the process: no later search for garbage looks at it again."""
    gc.freeze()


class OutsideAddress(AssertionError):
    """A test tried to reach beyond this computer."""


def is_loopback(address: Any) -> bool:
    """Whether a socket address is of this computer; local sockets are."""
    if not isinstance(address, tuple):
        return True
    if address[0] == "localhost":
        return True
    try:
        return ipaddress.ip_address(address[0]).is_loopback
    except ValueError:
        return False


@pytest.fixture(scope="session", autouse=True)
def everything_takes_the_time_it_needs() -> Iterator[None]:
    """Nothing is given up because the machine is slow: neither a proof of an optimum nor the search for when an alert began."""
    from dashboard.core.deferral.solve import TIME_LIMIT_S, solve
    from dashboard.service import compute

    defaults = solve.__kwdefaults__
    assert defaults["time_limit_s"] == TIME_LIMIT_S
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(defaults, "time_limit_s", 60 * TIME_LIMIT_S)
        patch.setattr(compute, "LOOKING_S", 2000 * compute.LOOKING_S)
        yield


@pytest.fixture(scope="session", autouse=True)
def loopback_only() -> Iterator[None]:
    """Connections beyond this computer fail, whatever the network would say."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: Any) -> None:
        if not is_loopback(address):
            raise OutsideAddress(f"expected an address of this computer, found {address}")
        connect(self, address)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", guarded)
        yield
