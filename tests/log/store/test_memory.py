"""Rows in memory: the store of a demo."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.log.store.shared import StoreTests


class TestMemory(StoreTests):
    """Gone when closed."""

    @pytest.fixture
    def url(self, tmp_path: Path) -> str:
        """In memory."""
        return "sqlite://"
