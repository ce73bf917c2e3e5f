"""Two board servers on one PostgreSQL: how long from an event sent to one until a client of the other has its bytes."""

from __future__ import annotations

import asyncio
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
from websockets.asyncio.client import connect

from dashboard.core.base.times import instant_text
from dashboard.log.store import EventStore
from tests.bench.make import PET_ZERO, write_sortie
from tests.bench.measure import Measured
from tests.bench.server import serving
from tests.local import LOCAL
from tests.postgres import running

EVENTS = 60
PAUSE_S = 0.4
WAIT_S, WARM_UP_S = 30.0, 5.0


def measure() -> Iterator[Measured]:
    """From the acknowledgement by the first server, and for comparison at a client of that one."""
    with tempfile.TemporaryDirectory() as folder, running() as database:
        yield Measured("acknowledged to read by another store", _heard(database.new_database()))
        plan, _ = write_sortie(Path(folder), 60, 0)
        url = database.new_database()
        with serving("serve", plan, "--store", url) as one, serving("serve", plan, "--store", url) as other:
            here, there = asyncio.run(_seen(one, other))
    yield Measured("acknowledged to a client of the same server", here)
    yield Measured("acknowledged to a client of the other server", there)


def _heard(url: str) -> list[float]:
    """What of it is the database: until the other store was told and has read the event."""
    one, other = EventStore(url), EventStore(url)
    told, took_s = threading.Event(), []
    other.watch(told.set)
    assert told.wait(WAIT_S)
    for number in range(EVENTS):
        time.sleep(0.05)
        told.clear()
        one.append([{"id": f"e{number}", "at": instant_text(PET_ZERO), "kind": "note", "text": "x"}], PET_ZERO)
        acknowledged_s = time.perf_counter()
        assert told.wait(WAIT_S) and len(other.events_after(number)) == 1
        took_s.append(time.perf_counter() - acknowledged_s)
    one.close()
    other.close()
    return took_s


async def _seen(one: str, other: str) -> tuple[list[float], list[float]]:
    acknowledged: dict[str, float] = {}
    arrived: dict[str, dict[str, float]] = {one: {}, other: {}}

    async def watch(server: str) -> None:
        async with connect(server.replace("http", "ws") + "/api/live", max_size=None, compression=None) as socket:
            async for text in socket:
                now_s = time.perf_counter()
                for number in range(EVENTS):
                    if f"probe-{number}-" in text:
                        arrived[server].setdefault(f"probe-{number}-", now_s)

    watchers = [asyncio.create_task(watch(server)) for server in (one, other)]
    async with httpx.AsyncClient(**LOCAL) as client:
        for server in (one, other):  # each starts the process that tries its events
            await client.post(f"{server}/api/events", json={"kind": "note", "text": "warming up"}, timeout=WAIT_S)
        await asyncio.sleep(WARM_UP_S)
        for number in range(EVENTS):
            token = f"probe-{number}-"
            answer = await client.post(f"{one}/api/events", json={"kind": "note", "text": token})
            answer.raise_for_status()
            acknowledged[token] = time.perf_counter()
            await asyncio.sleep(PAUSE_S)
    await asyncio.sleep(2)
    for watcher in watchers:
        watcher.cancel()
    missing = [token for seen in arrived.values() for token in acknowledged if token not in seen]
    assert not missing, f"never arrived: {missing}"
    # A message may be read before the answer of the request that caused it: then it took no time.
    here, there = ([max(0.0, arrived[server][token] - acknowledged[token]) for token in acknowledged] for server in (one, other))
    return here, there
