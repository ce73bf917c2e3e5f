"""How long from sending an event to the bytes at a client, with one and with many clients."""

from __future__ import annotations

import asyncio
import json
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
from websockets.asyncio.client import connect

from tests.bench.make import write_sortie, zero_that_ends_now
from tests.bench.measure import Measured
from tests.bench.server import serving
from tests.local import LOCAL

TASKS, LOGGED = 60, 300
EVENTS = 40
PAUSE_S = 0.3


def measure() -> Iterator[Measured]:
    """From before the request until the message with the event is there."""
    with tempfile.TemporaryDirectory() as folder:
        plan, log = write_sortie(Path(folder), TASKS, LOGGED, zero_that_ends_now(TASKS, LOGGED))
        with serving("serve", plan) as url:
            rows = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
            for begin in range(0, len(rows), 100):
                answer = httpx.post(f"{url}/api/events", json=rows[begin : begin + 100], **LOCAL, timeout=30)
                answer.raise_for_status()
            _check_that_all_count(url, len(rows))
            for clients in (1, 25):
                answers, arrivals = asyncio.run(_push(url, clients))
                yield Measured(f"event acknowledged, {clients} clients", answers)
                yield Measured(f"event to the bytes at a client, {clients} clients", arrivals)


def _check_that_all_count(url: str, events: int) -> None:
    """Stop unless the state rests on all events: one that is dated ahead of now would make the cycles cheaper."""
    counted = httpx.get(f"{url}/api/state", **LOCAL, timeout=30).json()["basis"]["events"]
    if counted != events:
        raise RuntimeError(f"expected a state of {events} events; found one of {counted}")


async def _push(url: str, clients: int) -> tuple[list[float], list[float]]:
    sent: dict[str, float] = {}
    arrivals: list[float] = []
    answers: list[float] = []

    async def watch() -> None:
        async with connect(
            url.replace("http", "ws") + "/api/live", max_size=None, compression=None
        ) as socket:
            seen: set[str] = set()
            async for text in socket:
                now_s = time.perf_counter()
                for token in sent.keys() - seen:
                    if token in text:
                        seen.add(token)
                        arrivals.append(now_s - sent[token])

    watchers = [asyncio.create_task(watch()) for _ in range(clients)]
    await asyncio.sleep(1)
    async with httpx.AsyncClient(**LOCAL) as client:
        for number in range(EVENTS):
            token = f"probe-{clients}-{number}"
            sent[token] = began_s = time.perf_counter()
            answer = await client.post(f"{url}/api/events", json={"kind": "note", "text": token})
            answer.raise_for_status()
            answers.append(time.perf_counter() - began_s)
            await asyncio.sleep(PAUSE_S)
    for watcher in watchers:
        watcher.cancel()
    return answers, arrivals
