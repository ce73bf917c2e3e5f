"""Addresses that nothing stands behind."""

from __future__ import annotations

import httpx
import pytest


@pytest.mark.parametrize("address", ["/brief/xx", "/runs/xx", "/boards", "/plan/xx", "/_dash-layout/xx"])
def test_an_unknown_address_is_no_page(client: httpx.Client, address: str) -> None:
    """404, with where the board is."""
    answer = client.get(address)
    assert (answer.status_code, "The board is at /." in answer.text) == (404, True)


@pytest.mark.parametrize("page", ["/", "/plan/"])
@pytest.mark.parametrize("body", [b"", b"{", b"[]", b'{"output": 7}'])
def test_what_is_sent_to_the_callbacks_of_a_page_is_not_looked_at(client: httpx.Client, page: str, body: bytes) -> None:
    """No page has any; junk is no fault of the server."""
    answer = client.post(f"{page}_dash-update-component", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 404


def test_the_pages_themselves_are_there(client: httpx.Client) -> None:
    """With what Dash needs to build them."""
    for address in ("/", "/plan/", "/_dash-layout", "/_dash-dependencies", "/plan/_dash-layout", "/brief", "/runs", "/wall"):
        assert client.get(address).status_code == 200, address
