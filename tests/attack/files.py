"""Plans, task sheets, logs and log sheets that nobody should hand in, made from proper ones by a seeded chance.

A file is either read, or refused with problems that say what was expected, what was found, where, and what to do. A plan that
is read must also give a state.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import random
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError
from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Plan
from dashboard.log.log_sheet import read_log_sheet
from dashboard.log.log_sheet_options import SheetOptions
from dashboard.log.logfile import read_log
from dashboard.log.plan_sheet_writer import sheet_of_plan
from dashboard.log.planfile import load_plan
from dashboard.service.compute import compute_view
from tests.attack.mutants import FITTING, NUMBERS, TEXTS, TIMES
from tests.attack.sortie import NOW_PET_MIN, PLAN, at, log
from tests.log.workbooks import SHEET, workbook
from tests.scenario import log_of, plan_of

LONGEST_PROBLEM = 3_000
LOG_SHEET = [
    ["time", "who", "what", "text"], ["0:00", "room", "PET zero", ""], ["0:01", "EV1", "start T010", "on time"], ["0:24",
    "EV1", "T010 done", ""],
    ["0:25", "EV1", "start T020", ""], ["0:40", "EV1", "hold T020", "cable"], ["0:50", "room", "T030 30 min left", ""],
    ["0:55", "room", "deferred T090", ""], ["1:00", "room", "end of sortie", ""],
]  # fmt: skip
CELLS: tuple[Any, ...] = (
    *TEXTS, *NUMBERS, *TIMES, True, dt.datetime(1899, 12, 30), dt.datetime(9999, 12, 31), dt.time(1, 50), dt.timedelta(days=400),
    "=A1", "=1/0", "#REF!", "1;2;3", '"', '""', "a,b", "T010 T010", "T010:5", "T010+5 T020+x", "[1, 2]", "20 30 50",
    "50 30 20", "1 2 1e308",
    "x" * 40_000,
)  # fmt: skip
TOML_VALUES = (
    '"T010"', '"x"', '""', "0", "-1", "1e308", "-1e308", "inf", "nan", "-inf", "9" * 18, "9" * 400, "0x7fffffffffffffff",
    "5e-324", "true",
    "[]", "[[]]", "{}", "[1, 2, 3]", "[3, 2, 1]", "[0, 0, 0]", "[1, 2, 1e308]", '["T010"]', '["T040", "T040"]', '["EV1", "EV1"]',
    "2031-04-12T09:10:00Z", "2031-04-12T09:10:00", "2031-04-12", "09:10:00", "9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z",
    "1:50",
    '"24:00"', '"24:01"', '"-0:30"', '"999:59"', "'''\n'''", '"\\u202e"', '"\\u0000"', '"' + "x" * 70 + '"',
    '"' + "é" * 5000 + '"',
    "[" * 60 + "]" * 60, "{ task = \"T010\", lag = 5 }", '[{ task = "T010", lag = 1e308 }]', "1440", "1e-300",
)  # fmt: skip


class Hostile(NamedTuple):
    """A file, what reads it, and what was done to it."""

    name: str
    content: bytes
    read: Callable[[Path], object]
    how: str


class Findings(NamedTuple):
    """What became of the files: how many were read and refused, the reasons, and what must not happen."""

    counts: Counter[str]
    faults: list[str]


def try_files(folder: Path, count: int, seed: int, done: Callable[[int], None] = lambda _: None) -> Findings:
    """Make so many files, and read each; `done` is called with how many were tried."""
    found = Findings(Counter(), [])
    for number, hostile in enumerate(islice(_Maker(folder, seed), count), start=1):
        one = try_one(hostile, folder)
        found.counts.update(one.counts)
        found.faults.extend(one.faults)
        done(number)
    return found


def try_one(hostile: Hostile, folder: Path) -> Findings:
    """Read one file."""
    found = Findings(Counter(), [])
    path = folder / hostile.name
    path.write_bytes(hostile.content)
    try:
        hostile.read(path)
    except InputError as refused:
        found.counts[f"{hostile.name} refused"] += 1
        found.faults.extend(f"{hostile.name} ({hostile.how}): {why}" for why in _unclear(refused))
    except Exception as wrong:  # this is what is looked for
        found.faults.append(f"{hostile.name} ({hostile.how}): {type(wrong).__name__}: {wrong} in {hostile.content[:200]!r}")
    else:
        found.counts[f"{hostile.name} read"] += 1
    return found


def _unclear(refused: InputError) -> Iterator[str]:
    if not refused.problems:
        yield "refused without a problem"
    for problem in refused.problems:
        missing = [part for part in ("subject", "expected", "found", "cure") if not getattr(problem, part).strip()]
        if missing:
            yield f"a problem without {', '.join(missing)}: {problem.text()[:300]}"
        if len(problem.text()) > LONGEST_PROBLEM:
            yield f"a problem of {len(problem.text())} characters: {problem.text()[:200]}"


def follow_plan(plan: Plan) -> None:
    """A plan that is read gives a state: before PET zero, during the sortie, and after its limit."""
    begun = log_of("0:00 clock")
    for events, pet_min in (([], -10), (begun, NOW_PET_MIN), (begun, 600)):
        view = compute_view(plan, events, (), parse_instant(at(pet_min)), "live")
        json.loads(view.state.model_dump_json())


class _Maker:
    """Makes hostile files without end: the same ones for the same seed."""

    def __init__(self, folder: Path, seed: int) -> None:
        self._rng = random.Random(seed)
        self._plan = plan_of(PLAN)
        self._plan_file = folder / "sound-plan.toml"
        self._plan_file.write_text(PLAN, encoding="utf-8")
        sheet = folder / "sound.csv"
        sheet.write_bytes(sheet_of_plan(self._plan, sheet))
        self._sheet = list(csv.reader(io.StringIO(sheet.read_text(encoding="utf-8"))))
        self._log = [["id", "at", "kind", "task", "lanes", "by"], *(
            [str(one.get(key, "")) for key in ("id", "at", "kind", "task", "lanes", "by")] for one in log()[:5]
        )]  # fmt: skip

    def __iter__(self) -> Iterator[Hostile]:
        while True:
            yield self._rng.choice((self._of_toml, self._of_toml, self._of_toml, self._of_csv, self._of_xlsx, self._of_log))()

    # -- files of each sort

    def _of_toml(self) -> Hostile:
        lines = PLAN.splitlines()
        for _ in range(self._rng.choice((1, 1, 2, 4))):
            self._change_line(lines)
        return self._damaged("plan.toml", "\n".join(lines).encode("utf-8", "surrogatepass"),
            lambda path: follow_plan(load_plan(path)), 0.15)

    def _of_csv(self) -> Hostile:
        rows, name, read = self._table("csv")
        text = io.StringIO()
        csv.writer(text, delimiter=self._rng.choice(",,,;\t")).writerows([["" if c is None else c for c in row] for row in rows])
        return self._damaged(name, text.getvalue().encode("utf-8", "surrogatepass"), read, 0.3)

    def _of_xlsx(self) -> Hostile:
        rows, name, read = self._table("xlsx")
        content = workbook([[_for_xlsx(cell) for cell in row] for row in rows], as_text=self._rng.random() < 0.5)
        if self._rng.random() < 0.3:
            content = self._with_changed_part(content)
        return self._damaged(name, content, read, 0.3)

    def _of_log(self) -> Hostile:
        lines = [json.dumps(one).encode() for one in log()]
        return self._damaged("log.jsonl", b"\n".join(lines), lambda path: read_log(path, self._plan), 1.0)

    def _table(self, ending: str) -> tuple[list[list[Any]], str, Callable[[Path], object]]:
        rng = self._rng
        kind = rng.choice(("tasks", "tasks", "log", "sheet") if ending == "csv" else ("tasks", "tasks", "sheet"))
        sound = {"tasks": self._sheet, "log": self._log, "sheet": LOG_SHEET}[kind]
        rows: list[list[Any]] = [list(row) for row in sound]
        for _ in range(rng.choice((1, 1, 2, 5))):
            self._change_table(rows)
        reads: dict[str, Callable[[Path], object]] = {
            "tasks": lambda path: follow_plan(load_plan(self._plan_file, path)),
            "log": lambda path: read_log(path, self._plan),
            "sheet": lambda path: read_log_sheet(path, self._plan, SheetOptions(times="pet")),
        }
        return rows, f"{kind}.{ending}", reads[kind]

    # -- changes

    def _change_line(self, lines: list[str]) -> None:
        rng, number = self._rng, self._rng.randrange(len(lines))
        change, key = rng.random(), lines[number].partition(" = ")[0]
        if change < 0.7 and " = " in lines[number]:
            fitting = FITTING.get(key) if rng.random() < 0.7 else None
            lines[number] = f"{key} = {rng.choice(TOML_VALUES) if not fitting else _toml(rng.choice(fitting))}"
        elif change < 0.8:
            del lines[number]
        elif change < 0.9:
            lines.insert(rng.randrange(len(lines)), lines[number])
        else:
            lines[number] += rng.choice(("#", " = 1", "]", '"', "\\", "\x00", "." * 300, "\u2028", "é"))

    def _change_table(self, rows: list[list[Any]]) -> None:
        rng, number = self._rng, self._rng.randrange(len(rows))
        change, row = rng.random(), rows[number]
        if change < 0.75 and row:
            row[rng.randrange(len(row))] = rng.choice(CELLS)
        elif change < 0.82:
            rows.insert(number, list(row))
        elif change < 0.88 and len(rows) > 1:
            del rows[number]
        elif change < 0.94:
            row.append(rng.choice(CELLS))
        else:
            rows[number] = row[: rng.randrange(len(row) + 1)]

    def _damaged(self, name: str, content: bytes, read: Callable[[Path], object], share: float) -> Hostile:
        rng, how = self._rng, "changed"
        if rng.random() < share and content:
            where = rng.randrange(len(content))
            damages = {
                "cut": content[:where], "a byte": content[:where] + bytes([rng.randrange(256)]) + content[where + 1 :],
                "noise": content[:where] + rng.randbytes(30) + content[where:], "NUL": content[:where] + b"\0" + content[where:],
                "UTF-16": content.decode("latin-1").encode("utf-16"), "byte order mark": b"\xef\xbb\xbf" + content, "empty": b"",
                "twice": content + b"\n" + content, "old line ends": content.replace(b"\n", b"\r"),
            }  # fmt: skip
            how = rng.choice(list(damages))
            content = damages[how]
        return Hostile(name, content, read, how)

    def _with_changed_part(self, content: bytes) -> bytes:
        """The workbook with a few bytes of the markup of its sheet changed."""
        rng, buffer = self._rng, io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(content)) as own, zipfile.ZipFile(buffer, "w") as made:
            for part in own.namelist():
                data = own.read(part)
                if part == SHEET:
                    where = rng.randrange(len(data))
                    data = data[:where] + rng.choice((b"<", b">", b"9", b'"', b"&", b"r=\"ZZZ9\"",
                        b"<v>1</v>")) + data[where + 1 :]
                made.writestr(part, data)
        return buffer.getvalue()


def _toml(value: Any) -> str:
    """A value of the edge of a field as TOML."""
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{name} = {_toml(inner)}" for name, inner in value.items()) + "}"
    return json.dumps(value)


def _for_xlsx(cell: Any) -> Any:
    """The cell, where the writer of workbooks takes it; else its text without what a workbook cannot hold."""
    if isinstance(cell, list | dict):
        return json.dumps(cell)
    if isinstance(cell, int) and not isinstance(cell, bool) and abs(cell) > 10**300:
        return str(cell)
    if isinstance(cell, str):
        return "".join(c for c in cell if c in "\t\n\r" or " " <= c < "\ufffe" or c > "\uffff")[:32_000]
    return cell
