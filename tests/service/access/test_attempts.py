"""Wrong keys, counted for each address."""

from __future__ import annotations

import pytest

from dashboard.service.access import attempts
from dashboard.service.access.attempts import Attempts, network_of


class Clock:
    now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def test_an_address_waits_after_too_many_wrong_keys():
    """Until the oldest of them is a minute old; another address does not."""
    clock = Clock()
    wrong = Attempts(most=3, within_s=60, clock=clock)
    for _ in range(3):
        assert wrong.wait_s("192.0.2.1") == 0
        wrong.wrong("192.0.2.1")
        clock.now_s += 10
    assert (wrong.wait_s("192.0.2.1"), wrong.wait_s("192.0.2.2")) == (30, 0)
    clock.now_s += 30
    assert wrong.wait_s("192.0.2.1") == 0


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:0:1::1", "2001:db8:0:1:ffff::2", True), ("2001:db8:0:1::1", "2001:db8:0:2::1", False),
        ("::ffff:192.0.2.1", "192.0.2.1", True), ("192.0.2.1", "192.0.2.2", False), ("", "192.0.2.1", False),
    ],
)  # fmt: skip
def test_addresses_of_one_network_of_ipv6_count_as_one(one: str, other: str, same: bool):
    """A computer there has as many addresses as it likes."""
    assert (network_of(one) == network_of(other)) is same


def test_memory_stays_bounded(monkeypatch: pytest.MonkeyPatch):
    """Of very many addresses the oldest are forgotten."""
    monkeypatch.setattr(attempts, "MOST_ADDRESSES", 5)
    wrong = Attempts(most=1, clock=Clock())
    for number in range(50):
        wrong.wrong(f"192.0.2.{number}")
    assert [number for number in range(50) if wrong.wait_s(f"192.0.2.{number}")] == [45, 46, 47, 48, 49]
