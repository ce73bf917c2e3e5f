"""Every benchmark in one table: `python -m tests.bench`, or with some of the names below.

Advice, search, kills and memory take minutes, and servers needs PostgreSQL: they run only when named.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module

from tests.bench.measure import Measured, table

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does
ALL = ("follow", "command", "runs", "push", "browser", "store")
NAMED = (*ALL, "advice", "search", "kills", "servers", "memory")
TABLES = ("spread", "sorties")


def main() -> None:
    """Run those named, or all."""
    wanted = sys.argv[1:] or ALL
    if unknown := set(wanted) - {*NAMED, *TABLES}:
        sys.exit(f"expected some of {', '.join((*NAMED, *TABLES))}; found {', '.join(sorted(unknown))}")
    rows: list[Measured] = []
    for name in wanted:
        if name in TABLES:
            import_module(f"tests.bench.bench_{name}").main()
            continue
        for row in import_module(f"tests.bench.bench_{name}").measure():
            print(f"{row.what}: done", file=sys.stderr, flush=True)
            rows.append(row)
    if rows:
        print(table(rows))


if __name__ == "__main__":
    main()
