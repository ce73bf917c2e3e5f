"""The benchmarks by their names."""

from __future__ import annotations

from importlib import import_module

import pytest

from tests.bench.__main__ import NAMED, TABLES


@pytest.mark.parametrize("name", [*NAMED, *TABLES])
def test_a_benchmark_can_be_loaded_by_its_name(name: str) -> None:
    """They run only by name, so nothing else tells when one has lost something that it imports."""
    assert callable(getattr(import_module(f"tests.bench.bench_{name}"), "main" if name in TABLES else "measure"))
