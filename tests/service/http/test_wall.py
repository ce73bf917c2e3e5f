"""The address of the wall view."""

from __future__ import annotations

import httpx


def test_the_wall_is_the_page_of_the_board(client: httpx.Client) -> None:
    """With its styles, even as the first page that a server is asked for, and under the same content policy."""
    wall, board = client.get("/wall"), client.get("/")
    assert wall.status_code == 200 and "wall.css" in wall.text
    assert wall.text.partition("<footer>")[0] == board.text.partition("<footer>")[0]
    assert wall.headers["content-security-policy"] == board.headers["content-security-policy"]


def test_a_key_in_the_address_of_the_wall_leads_back_to_the_wall(client: httpx.Client) -> None:
    """Without the key."""
    answer = client.get("/wall?key=abc&theme=light", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/wall?theme=light")
