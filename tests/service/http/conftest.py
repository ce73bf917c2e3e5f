"""A server with its pages, for tests of addresses."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest

from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.local import LOCAL
from tests.screens.plans import plain_plan


@pytest.fixture(scope="module")
def client() -> Iterator[httpx.Client]:
    """A server whose board nobody has opened yet."""
    plan = plain_plan()
    app = make_app(Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id)))).server
    with LiveServer(app) as live, httpx.Client(base_url=live.url, **LOCAL) as client:
        yield client
