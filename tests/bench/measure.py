"""Measuring, and saying what was measured."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from typing import NamedTuple


class Measured(NamedTuple):
    """One row of the table: what was measured, and each reading in seconds."""

    what: str
    readings_s: Sequence[float]


def timed(what: str, work: Callable[[], object], runs: int) -> Measured:
    """`work` done so many times, after once for warming up."""
    work()
    readings = []
    for _ in range(runs):
        began_s = time.perf_counter()
        work()
        readings.append(time.perf_counter() - began_s)
    return Measured(what, readings)


def table(rows: Sequence[Measured]) -> str:
    """All rows in milliseconds; p95 only from twenty readings on."""
    lines = [f"{'ms':<58}{'n':>4}{'min':>9}{'median':>9}{'p95':>9}{'max':>9}"]
    for what, readings_s in rows:
        ms = sorted(reading * 1000 for reading in readings_s)
        p95 = f"{statistics.quantiles(ms, n=20)[-1]:9.1f}" if len(ms) >= 20 else f"{'':>9}"
        lines.append(f"{what:<58}{len(ms):>4}{ms[0]:9.1f}{statistics.median(ms):9.1f}{p95}{ms[-1]:9.1f}")
    return "\n".join(lines)
