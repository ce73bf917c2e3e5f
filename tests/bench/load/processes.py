"""What a process and its children use of the computer, as Linux tells it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

TICK_S = 1.0 / os.sysconf("SC_CLK_TCK")
PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")


class Used(NamedTuple):
    """Of one process: its name, processor time so far, and memory in use."""

    name: str
    processor_s: float
    memory_mb: float


def used_by(pid: int) -> dict[int, Used]:
    """Of a process and all that it started, by their ids."""
    parents = {int(entry.name): _parent(entry) for entry in Path("/proc").iterdir() if entry.name.isdigit()}
    wanted, found = [pid], {}
    while wanted:
        one = wanted.pop()
        wanted += [child for child, parent in parents.items() if parent == one]
        if (used := _used(one)) is not None:
            found[one] = used
    return found


def load() -> str:
    """Load of the computer over the last minute, and its processors."""
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors"


def _parent(entry: Path) -> int:
    try:
        return int(_fields(entry)[1])
    except OSError:
        return -1


def _used(pid: int) -> Used | None:
    entry = Path(f"/proc/{pid}")
    try:
        fields, words = _fields(entry), (entry / "cmdline").read_bytes().split(b"\0")
        name = b" ".join(words[1:4]).decode(errors="replace")[:60]
        return Used(name, (int(fields[11]) + int(fields[12])) * TICK_S, int(fields[21]) * PAGE_BYTES / 1e6)
    except OSError:
        return None


def _fields(entry: Path) -> list[str]:
    """The fields of `stat` after the name of the program, which may hold anything."""
    return (entry / "stat").read_text(encoding="ascii", errors="replace").rpartition(")")[2].split()
