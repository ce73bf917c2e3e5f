"""Every benchmark in one table: `python -m tests.bench`, or with some of the names below.

Advice, search, kills, load, memory, page, attack and calls take minutes, and servers needs PostgreSQL: they run only when named.
Spread, sorties and walkback measure no time: they print tables of their own, how well the projected end and the turn-back times
hold against real sorties and published rules. Plan types a plan into the plan page, and prints its figures. Libreoffice says
whether a plan that LibreOffice opened and saved is read back without loss.
"""

from __future__ import annotations

import argparse
import os
import sys
from importlib import import_module

from tests.bench.measure import Measured, table

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does
ALL = ("follow", "command", "runs", "push", "browser", "store")
NAMED = (*ALL, "advice", "search", "kills", "servers", "load", "memory", "page", "attack", "calls")
WITH_OPTIONS = ("page", "attack", "calls")
TABLES = ("spread", "sorties", "walkback", "plan", "libreoffice")


def main() -> None:
    """Run those named, or all."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    known = ", ".join((*NAMED, *TABLES))
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"some of {known}; none: {', '.join(ALL)}")
    parser.add_argument(
        "--count", type=int, help="attack: mutated events (100000). 5 %% of them go over HTTP to a server process, which is "
        "killed and started again; the rest to the same routes, intake, trials and store in this process, without a socket. "
        "calls: sorties in each mode (10). page: minutes of replay (60)"
    )  # fmt: skip
    parser.add_argument("--seed", type=int, help="attack, calls: the same seed makes the same events or sorties")
    given = parser.parse_args()
    wanted = given.names or ALL
    if unknown := set(wanted) - {*NAMED, *TABLES}:
        sys.exit(f"expected some of {known}; found {', '.join(sorted(unknown))}")
    options = {name: value for name, value in (("count", given.count), ("seed", given.seed)) if value is not None}
    rows: list[Measured] = []
    for name in wanted:
        if name in TABLES:
            import_module(f"tests.bench.bench_{name}").main()
            continue
        for row in import_module(f"tests.bench.bench_{name}").measure(**(options if name in WITH_OPTIONS else {})):
            print(f"{row.what}: done", file=sys.stderr, flush=True)
            rows.append(row)
    if rows:
        print(table(rows))


if __name__ == "__main__":
    main()
