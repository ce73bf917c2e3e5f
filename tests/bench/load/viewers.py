"""Many viewers of one websocket in one process: when each of them saw each probe for the first time.

    python -m tests.bench.load.viewers HOST PORT PATH VIEWERS PROBES FILE

A viewer does as little as it can: it puts a message together and looks for probes (`~p00042~`) in its bytes. It answers
pings. A line on standard input ends it; then it writes an array of shape (viewers, probes) of seconds on the monotonic
clock to FILE, nan where a probe was never seen, and one line of JSON to standard output: messages and bytes received.
"""

from __future__ import annotations

import asyncio
import base64
import json
import os
import re
import sys
import time

import numpy as np

PROBE = re.compile(rb"~p(\d{5})~")
FIRST = b"~p"
BUFFER_BYTES = 1 << 20
PING, PONG, TEXT = 0x9, 0xA, 0x1


def probe(number: int) -> str:
    """The text by which an event is known in a message."""
    return f"~p{number:05d}~"


class _Viewer(asyncio.BufferedProtocol):
    """One client of the websocket."""

    buffer = memoryview(bytearray(BUFFER_BYTES))  # one thread, and what came in is copied at once

    def __init__(self, host: str, path: str, seen_s: np.ndarray) -> None:
        self._seen_s = seen_s
        self._bytes = bytearray()
        self._upgraded = False
        self._host, self._path = host, path
        self.messages = self.received_bytes = 0
        self.lost = False

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        key = base64.b64encode(os.urandom(16)).decode()
        transport.write(
            f"GET {self._path} HTTP/1.1\r\nHost: {self._host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
        )

    def connection_lost(self, exc: Exception | None) -> None:
        self.lost = True

    def get_buffer(self, sizehint: int) -> memoryview:
        return self.buffer

    def buffer_updated(self, nbytes: int) -> None:
        self._bytes += self.buffer[:nbytes]
        if not self._upgraded:
            head, found, rest = bytes(self._bytes).partition(b"\r\n\r\n")
            if not found:
                return
            if b" 101 " not in head.split(b"\r\n", 1)[0]:
                raise RuntimeError(f"expected an upgrade; found {head[:200]!r}")
            self._upgraded, self._bytes = True, bytearray(rest)
        while self._take_frame():
            pass

    def _take_frame(self) -> bool:
        """Take a whole frame off the bytes; False when there is none yet."""
        have = self._bytes
        if len(have) < 2:
            return False
        length, start = have[1] & 0x7F, 2
        if length >= 126:
            start = 4 if length == 126 else 10
            if len(have) < start:
                return False
            length = int.from_bytes(have[2:start], "big")
        if len(have) < start + length:
            return False
        kind = have[0] & 0x0F
        if kind == PING:
            self._transport.write(bytes((0x80 | PONG, 0x80 | length, 0, 0, 0, 0)) + have[start : start + length])
        elif kind == TEXT:
            self.messages += 1
            self.received_bytes += length
            self._look(have, start, start + length)
        del have[: start + length]
        return True

    def _look(self, have: bytearray, start: int, end: int) -> None:
        first = have.find(FIRST, start, end)
        if first < 0:
            return
        now_s = time.monotonic()
        for found in PROBE.finditer(have, first, end):
            number = int(found[1])
            if np.isnan(self._seen_s[number]):
                self._seen_s[number] = now_s


async def _watch(host: str, port: int, path: str, viewers: int, probes: int, file: str) -> None:
    seen_s = np.full((viewers, probes), np.nan)
    loop = asyncio.get_running_loop()
    watching = []
    for number in range(viewers):
        _, viewer = await loop.create_connection(lambda n=number: _Viewer(f"{host}:{port}", path, seen_s[n]), host, port)
        watching.append(viewer)
    print("ready", flush=True)
    await loop.run_in_executor(None, sys.stdin.readline)
    np.save(file, seen_s)
    told = {
        "messages": sum(one.messages for one in watching),
        "bytes": sum(one.received_bytes for one in watching),
        "lost": sum(one.lost for one in watching),
    }
    print(json.dumps(told), flush=True)


if __name__ == "__main__":
    asyncio.run(_watch(sys.argv[1], int(sys.argv[2]), sys.argv[3], int(sys.argv[4]), int(sys.argv[5]), sys.argv[6]))
