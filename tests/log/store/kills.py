"""Killing a process that appends, again and again, and looking for what it had acknowledged."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections import Counter
from dataclasses import dataclass
from multiprocessing.connection import Connection

from dashboard.core.base.times import parse_instant
from dashboard.log.store import EventStore

SORTIE = "lantern-t"
RECEIVED = parse_instant("2031-04-12T09:20:00Z")
MOST_AT_ONCE = 3
MOST_BEFORE_A_KILL = 40
LONGEST_PAUSE_S = 0.01
WAIT_S = 60.0


@dataclass(frozen=True)
class Kills:
    """What was found after so many kills."""

    kills: int
    acknowledged: int
    lost: list[str]
    twice: list[str]
    beside: int  # recorded and not acknowledged: under way when the kill came


def kill_while_appending(url: str, kills: int, seed: int) -> Kills:
    """Start a process that appends, kill it at a random moment, and go on with the next on the same store."""
    rng = random.Random(seed)
    # Each process is forked from one that has imported the program already.
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.log.store.kills", "sqlalchemy.dialects.postgresql.psycopg", "psycopg"])
    acknowledged: list[str] = []
    for number in range(kills):
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(target=_append_for_ever, args=(url, number, seed, theirs), daemon=True)
        process.start()
        theirs.close()
        acknowledged += _heard(ours, rng.randint(0, MOST_BEFORE_A_KILL))
        time.sleep(rng.uniform(0, LONGEST_PAUSE_S))
        assert process.pid is not None
        os.kill(process.pid, signal.SIGKILL)
        acknowledged += _heard(ours)
        process.join(WAIT_S)
        assert process.exitcode == -signal.SIGKILL, process.exitcode
    store = EventStore(url, SORTIE)
    kept = Counter(event.id for event in store.events())
    store.close()
    return Kills(
        kills, len(acknowledged), [name for name in acknowledged if name not in kept],
        [name for name, times in kept.items() if times > 1], len(kept) - len(set(acknowledged)),
    )


def _append_for_ever(url: str, number: int, seed: int, answers: Connection) -> None:
    rng = random.Random(f"{seed}-{number}")
    store = EventStore(url, SORTIE)
    for turn in range(1_000_000):
        names = [f"k{number}-{turn}-{place}" for place in range(rng.randint(1, MOST_AT_ONCE))]
        items = [{"id": name, "at": "2031-04-12T09:15:00Z", "kind": "note", "text": "x" * rng.randint(1, 2000)} for name in names]
        outcomes = store.append(items, RECEIVED)
        answers.send_bytes(" ".join(outcome.id or "" for outcome in outcomes if outcome.status == "recorded").encode())


def _heard(answers: Connection, batches: int | None = None) -> list[str]:
    """What was acknowledged: in so many batches, or until the end. A message that the kill cut short is none."""
    names: list[str] = []
    try:
        while batches is None or batches > 0:
            assert answers.poll(WAIT_S), "the process that appends says nothing"
            names += answers.recv_bytes().decode().split()
            batches = None if batches is None else batches - 1
    except (EOFError, OSError):
        assert batches is None, "the process that appends ended by itself"
    return names
