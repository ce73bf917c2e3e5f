"""Says in words why a server does not answer."""

from __future__ import annotations

import socket


def no_answer(wrong: Exception) -> str:
    """Say why a server does not answer.

    Parameters
    ----------
    wrong
        What `urllib.request` raised instead of an answer.

    Returns
    -------
    str
        For instance ``connection refused``, without the number of the error.
    """
    reason = getattr(wrong, "reason", wrong)
    if isinstance(reason, TimeoutError):
        return "it took too long"
    if isinstance(reason, socket.gaierror):
        return "no computer of this name is known"
    said = str(getattr(reason, "strerror", None) or reason)
    return said[:1].lower() + said[1:]
