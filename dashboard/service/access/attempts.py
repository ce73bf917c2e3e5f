"""Wrong keys, counted for each address: after too many of them an address waits.

What waits is only a key that a person chose, since that alone can be guessed: whoever signed in, or shows a key of the key
file, is let in all the same. So nobody who shares an address with a stranger, for instance that of a proxy, can be locked
out by him.
"""

from __future__ import annotations

import ipaddress
import time
from collections import OrderedDict, deque
from collections.abc import Callable

MOST_WRONG = 10
WITHIN_S = 60.0
MOST_ADDRESSES = 10_000


class Attempts:
    """The wrong keys of the last while, for each address.

    Parameters
    ----------
    most : int
        So many wrong keys of one address within `within_s` make it wait.
    within_s : float
    clock : callable
        Gives seconds that never go back.
    """

    def __init__(
        self, most: int = MOST_WRONG, within_s: float = WITHIN_S, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._most, self._within_s, self._clock = most, within_s, clock
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()

    def wait_s(self, address: str) -> float:
        """How long this address waits before a key of it is looked at; 0: not at all."""
        times = self._wrong.get(network_of(address))
        if times is None or len(times) < self._most:
            return 0.0
        return max(0.0, times[0] + self._within_s - self._clock())

    def wrong(self, address: str) -> None:
        """A wrong key came from this address."""
        network = network_of(address)
        self._wrong.setdefault(network, deque(maxlen=self._most)).append(self._clock())
        self._wrong.move_to_end(network)
        if len(self._wrong) > MOST_ADDRESSES:
            self._wrong.popitem(last=False)


def network_of(address: str) -> str:
    """What counts as one address: of IPv6 the network of one house (/64), since each computer has many there."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return address
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.IPv6Network((found, 64), strict=False))
