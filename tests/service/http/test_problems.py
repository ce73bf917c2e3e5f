"""Requests that cannot be answered."""

import pytest

from tests.service.conftest import Room


@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE"])
@pytest.mark.parametrize("path", ["/api", "/api/", "/api/nope", "/api/state/T010", "/api/events/x/y"])
def test_an_unknown_address_is_404_with_a_problem(room: Room, method: str, path: str):
    """Never the page of the board."""
    answer = room.http.request(method, path)
    assert answer.status_code == 404
    assert answer.json()["problems"][0]["found"] == f"{method} {path}"
