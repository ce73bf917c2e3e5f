"""Why a server does not answer, in words."""

from __future__ import annotations

import socket
from urllib.error import URLError

import pytest

from dashboard.cli.no_answer import no_answer


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (URLError(ConnectionRefusedError(111, "Connection refused")), "connection refused"),
        (ConnectionResetError(104, "Connection reset by peer"), "connection reset by peer"),
        (URLError(socket.gaierror(-2, "Name or service not known")), "no computer of this name is known"),
        (TimeoutError("timed out"), "it took too long"),
        (URLError("no host given"), "no host given"),
    ],
)
def test_the_reason_is_in_words_and_without_its_number(wrong: Exception, said: str):
    """Whether the exception holds another one or is the reason itself."""
    assert no_answer(wrong) == said
