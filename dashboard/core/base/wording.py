"""Rules of plain English that the core needs itself; everything else that becomes text is in `dashboard.words`."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str]) -> str:
    """``A``, ``A and B``, ``A, B and C``."""
    return " and ".join([*([", ".join(names[:-1])] if len(names) > 1 else []), *names[-1:]])
