"""Wrong keys are counted for each address. After too many of them, keys from that address are refused for a while.

Only keys that a person chose are refused, since only those can be guessed. Whoever is signed in, or shows a key of the key
file, is still let in. A stranger therefore cannot lock out people who share his address, for instance that of a proxy.
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
    """Times of the latest wrong keys, for each address.

    Parameters
    ----------
    most : int
        This many wrong keys from one address within `within_s` make it wait.
    within_s : float
        How long a wrong key is remembered, in seconds.
    clock : callable
        Gives seconds that never go back.
    """

    def __init__(
        self, most: int = MOST_WRONG, within_s: float = WITHIN_S, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._most, self._within_s, self._clock = most, within_s, clock
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()

    def wait_s(self, address: str) -> float:
        """How long this address waits before its next key is checked.

        Parameters
        ----------
        address
            From where the key comes, as the server sees it.

        Returns
        -------
        float
            In seconds; 0 when a key is checked at once.
        """
        times = self._wrong.get(network_of(address))
        if times is None or len(times) < self._most:
            return 0.0
        return max(0.0, times[0] + self._within_s - self._clock())

    def wrong(self, address: str) -> None:
        """Count a wrong key.

        Parameters
        ----------
        address
            From where the key came.
        """
        network = network_of(address)
        self._wrong.setdefault(network, deque(maxlen=self._most)).append(self._clock())
        self._wrong.move_to_end(network)
        if len(self._wrong) > MOST_ADDRESSES:
            self._wrong.popitem(last=False)


def network_of(address: str) -> str:
    """What counts as one address. An IPv6 computer has many, so all of its /64 network count as one.

    Parameters
    ----------
    address
        An IPv4 or IPv6 address, or any other text.

    Returns
    -------
    str
        The /64 network of an IPv6 address, the IPv4 address that is mapped into one, else the text unchanged.
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return address
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.IPv6Network((found, 64), strict=False))
