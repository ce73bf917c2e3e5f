"""Events that nobody should send, made from proper ones by a seeded chance.

Each mutant is the body of one request. It begins as a proper event of some kind, of which one to three things are then
changed: a field gets a value that does not belong there, goes away, comes twice or has a long list; an event answers itself,
or others in a chain; or the text itself is damaged. Most mutants are still JSON, since only these get far.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any, NamedTuple

from dashboard.core.events.kinds import KINDS
from tests.attack.sortie import NOW_PET_MIN, at, log
from tests.scenario import PET_ZERO

TASKS = ("T010", "T020", "T025", "T030", "T040", "T050", "T060", "T070", "T090", "T100", "T110", "C010", "C020", "T020b", "X1")
LANES = ("EV1", "EV2", "ARM")
LONG = 3_000
CHANGES_AT_ONCE = (1, 1, 1, 2, 3)
REMEMBERED = 40

TIMES = (
    "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "9999-12-31T23:59:60Z", "2031-02-31T10:00:00Z", "2031-04-12T24:00:00Z",
    "2031-04-12T09:10:00", "2031-04-12", "10:15", "0:48", "+0:48", "-0:48", "999:59", "2031-102T09:10:00", "2031-366T00:00:00Z",
    "2031-04-12T09:10:00.999999999999Z", "2031-04-12T09:10:00+23:59", "2031-04-12T09:10:00-99:99", "0000-00-00T00:00:00Z",
    "2031-04-12T09:10:00Z ", "١٢:٣٠", "now", "", 0, -1, 1e18, None, True, [], {},
)  # fmt: skip
NUMBERS = (
    0, -0.0, -1, 1, 5, 17.5, 90, 1439.999, 1440, 1441, 1e6, 1e300, -1e300, 1e308, 5e-324, 1e-9, 2**31, 2**53 + 1, 2**63,
    2**64, -(2**63),
    10**17, 10**18, 10**25, True, "5", "0:30", "1e5", "nan", "inf", "-5", "٣", "9" * 400, None,
)  # fmt: skip
TEXTS = (
    "", " ", "\t", "\n", "\r\n", "a\nb", "\x01", "\x1b[2J\x1b[31m", "\x7f", "\x85", "\u2028", "\u2029", "\u200b", "\u202etxt.exe",
    "\ufeff", "\ufffe", "\ufffd", "\U0010ffff", "e\u0301", "\u00e9", "\uff34\uff10\uff11\uff10", "T010\u200b", "t010",
    " T010", "T010 ", "ﬁ", "İ", "ß",
    "😀" * 40, "\u0300" * 200, "<script>alert(1)</script>", "'\"><img src=x onerror=alert(1)>", "{{7*7}}", "%s%n", "{0}{x}",
    "{self}",
    "../../etc/passwd", "'; DROP TABLE events; --", "=1+1", "@SUM(A1)", "-1", "+1", "null", "None", "NaN", "all", "EV1",
    "T010", "b10", "leak",
    "old", "bring", "x" * 59, "x" * 60, "x" * 61, "x" * 199, "x" * 200, "x" * 201, "x" * 20_000, "*" * 60, "__proto__",
    "constructor", "__class__",
)  # fmt: skip
SHAPES: tuple[Any, ...] = (
    None, True, False, [], {}, [[]], [None], [{}], {"": None}, {"a": {"b": {"c": []}}}, ["T010"], ["T010", "T010"], ["EV1",
    "EV9"],
    {"T020": 20}, {"T020": -1}, {"T020": None}, {"T020": 1e308}, {"T400": 5}, {"x" * 70: 5}, [1, 2, 3], [3, 2, 1], [1, 2, 1e308],
    [1, 2], [1, 2, 3, 4], ["1:00", 70, "1:20"], [0, 0, 0], [5e-324, 1, 2],
)  # fmt: skip

# Values that fit their fields, and lie at their edges.
FITTING: dict[str, tuple[Any, ...]] = {
    "task": TASKS, "before": TASKS, "lane": LANES, "suit": ("A", "B"), "contingency": ("leak",), "event": (),
    "lanes": (["EV1"] * LONG, ["ARM"], ["EV2", "EV1", "EV2"], list(LANES)),
    "tasks": (list(TASKS), ["T020"] * LONG, ["T010"], ["T030"], ["C010", "C020"], ["T100", "T110"]),
    "defer": (list(TASKS), ["T090"] * LONG, ["C010"], ["T030", "T040"], []),
    "trim": ({"T020": 0}, {"T020": 1440}, {"T020": 5e-324, "T090": 1e-9}, {"C010": 1}, {"T010": "24:00"}, {}),
    "remaining": (0, 1e-9, 5e-324, 17.5, 1439.999, 1440, "0:00", "24:00", "1e3", -0.0),
    "duration": (0, 1e-9, 5e-324, 17.5, 1439.999, 1440, "0:30", [0, 0, 0], [0, 1e-9, 1440], [5e-324, 1, 2], [1440, 1440, 1440]),
    "start": (0, 1440, "24:00", 1e-9, "0:00:00.001"), "not_before": (-1e308, -1440, 0, 1440, 5e-324), "closeout": (0, 1440, 1e-9),
    "oxygen": (0, 1e6, 5e-324, 1e-9, 0.66), "battery": (0, 1e6, 5e-324, 480), "water": (0, 1e6, 4.5), "co2": (0, 1e6, 0.73),
    "after": (list(TASKS), ["T010"] * 200, []), "serves": (list(TASKS), []), "obliges": (list(TASKS), []),
    "can_move_to": (list(LANES),),
    "follows": ([{"task": task, "lag": 1440} for task in TASKS], [{"task": "T010", "lag": 0}] * 200), "needs": (["night"],
    ["daylight"] * 200),
    "value": (0, 1e308, 5e-324, 1), "priority": (1, 2, 10**17, 10**9), "workload": (0, 2500, "rest", "heavy", 5e-324),
    "worksite": ("boom", "mast", "moon"), "leg": ("boom", "mast", "moon"), "together": ("tray", "x" * 60),
    "activity": ("unstow", "x" * 60),
    "shortest": (0, 5e-324, 15, 1440), "required": (True, False), "boxed": (True, False), "get_ahead": (True, False),
    "all": (True,),
}  # fmt: skip

Table = dict[str, Any]


class Mutant(NamedTuple):
    """The body of one request, what was done to it, and whether it is still one JSON object."""

    body: bytes
    how: tuple[str, ...]
    is_object: bool = True


class Mutator:
    """Makes mutants without end: the same ones for the same seed.

    Parameters
    ----------
    seed : int
    zero : datetime
        PET zero of the sortie.
    """

    def __init__(self, seed: int, zero: datetime = PET_ZERO) -> None:
        self._rng, self._zero = random.Random(seed), zero
        self._ids = [one["id"] for one in log()]
        self._made = 0

    def __iter__(self) -> Iterator[Mutant]:
        while True:
            yield self.mutant()

    def mutant(self) -> Mutant:
        """The next one."""
        rng, self._made = self._rng, self._made + 1
        event = self._proper()
        how = [event["kind"]]
        for _ in range(rng.choice(CHANGES_AT_ONCE)):
            change = rng.choices(list(CHANGES), list(CHANGES.values()))[0]
            change(self, event)
            how.append(change.__name__.strip("_"))
        if isinstance(event.get("id"), str) and len(event["id"]) <= 200:
            self._ids = [*self._ids[-REMEMBERED:], event["id"]]
        body = json.dumps(event, ensure_ascii=rng.random() < 0.5).encode("utf-8", "surrogatepass")
        is_object = rng.random() >= 0.08
        if not is_object:
            damage = rng.choice(DAMAGES)
            body = damage(self, body)
            how.append(damage.__name__.strip("_"))
        return Mutant(body, tuple(how), is_object)

    # -- proper events

    def _proper(self) -> Table:
        rng = self._rng
        kind = rng.choice(list(KINDS))
        event = {"id": f"m{self._made}", "kind": kind, **self._fields(kind)}
        if rng.random() < 0.8:
            event["at"] = self._at(rng.choice((rng.uniform(-30, NOW_PET_MIN), rng.uniform(0, 300), NOW_PET_MIN)))
        return event

    def _fields(self, kind: str) -> Table:
        rng, task, lane = self._rng, self._task(), self._lane()
        match kind:
            case "start":
                return {"task": task, **self._maybe("lanes", rng.sample(LANES, rng.randint(1, 3)))}
            case "done" | "break_off":
                return {"task": task}
            case "hold" | "resume":
                return rng.choice(({"task": task}, {"lane": lane}, {"all": True}))
            case "estimate":
                return {"task": task, "remaining": rng.randint(0, 90)}
            case "trim" | "extend":
                return {"task": task, "duration": rng.choice((rng.randint(1, 120), "0:20"))}
            case "defer" | "reinstate":
                return {"tasks": rng.sample(TASKS, rng.randint(1, 4))}
            case "insert":
                return {"contingency": "leak"}
            case "choose":
                return {"alternative": "old", "option": rng.choice(("lash", "bring"))}
            case "add":
                return {"task": self._added(), **self._maybe("before", task)}
            case "move":
                return rng.choice(({"task": task, "lane": lane}, {"task": task, "before": self._task()}))
            case "reading":
                return {"suit": rng.choice("AB"), rng.choice(("oxygen", "co2", "battery", "water")): rng.uniform(0, 5)}
            case "check":
                return {"check": "read", "lane": lane}
            case "decision":
                change = {"defer": rng.sample(TASKS, 2), "trim": {"T020": 18}}
                return {"text": "Cut it", **self._maybe("defer", [task]), **self._maybe("trim", {task: 20}),
                        **self._maybe("chosen", change)}  # fmt: skip
            case "note":
                return {"text": "Seen"}
            case "amend":
                return {"event": rng.choice(self._ids), "changes": rng.choice((
                    {"at": self._at(rng.uniform(0, 90))}, {"task": task}, {"tasks": [task]}, {"remaining": 5},
                    {"event": rng.choice(self._ids)},
                    {"note": "late"}, {"defer": [task]}, {"trim": {task: 10}}, {"lanes": [lane]}, {"kind": "done"},
                ))}  # fmt: skip
            case "withdraw":
                return {"event": rng.choice(self._ids)}
        return {}

    def _added(self) -> Table:
        rng = self._rng
        return {
            "id": rng.choice((f"A{self._made}", "X1", self._task())), "title": "Fix", "lanes": rng.sample(LANES,
            rng.randint(1, 2)),
            "duration": rng.choice((15, [5, 10, 20], "0:25")), **self._maybe("after", [self._task()]), **self._maybe("start",
            "1:30"),
            **self._maybe("follows", [{"task": self._task(), "lag": 3}]), **self._maybe("serves", [self._task()]),
            **self._maybe("obliges", [self._task()]), **self._maybe("together", "tray"), **self._maybe("leg", "boom"),
            **self._maybe("needs", ["daylight"]), **self._maybe("worksite", "mast"), **self._maybe("boxed", True),
            **self._maybe("get_ahead", True), **self._maybe("required", True), **self._maybe("not_before", "3:00"),
        }  # fmt: skip

    def _maybe(self, name: str, value: Any) -> Table:
        return {name: value} if self._rng.random() < 0.3 else {}

    def _task(self) -> str:
        return self._rng.choice(TASKS)

    def _lane(self) -> str:
        return self._rng.choice(LANES)

    def _at(self, pet_min: float) -> str:
        return at(pet_min, self._zero)

    # -- changes of the table

    def _place(self, event: Table) -> tuple[Any, Any]:
        """A table or list somewhere in the event, and a key or place of it."""
        rng, holder = self._rng, event
        while True:
            keys = list(holder) if isinstance(holder, dict) else list(range(len(holder)))
            if holder is event and len(keys) > 3 and rng.random() < 0.8:
                keys = [key for key in keys if key not in ("id", "kind", "at")] or keys
            key = rng.choice(keys)
            inner = holder[key]
            if not isinstance(inner, dict | list) or not inner or rng.random() < 0.4:
                return holder, key
            holder = inner

    def _value(self) -> Any:
        rng = self._rng
        return rng.choice(rng.choice((TIMES, NUMBERS, TEXTS, SHAPES, TASKS)))

    def _at_the_edge(self, event: Table) -> None:
        """A field of the event or of the task that it adds gets a value that fits, at the edge of what fits."""
        rng = self._rng
        if isinstance(event.get("task"), dict):
            event["task"].update({name: rng.choice(FITTING[name]) for name in rng.sample(OF_A_TASK, rng.randint(1, 4))})
            return
        names = [name for name in event if FITTING.get(name)]
        if names:
            name = rng.choice(names)
            event[name] = rng.choice(FITTING[name])

    def _words(self, event: Table) -> None:
        """Strange words where words may stand."""
        names = [name for name in ("text", "reason", "note", "by") if name in event or name in ("note", "by")]
        event[self._rng.choice(names)] = self._rng.choice(TEXTS)

    def _strange_value(self, event: Table) -> None:
        holder, key = self._place(event)
        holder[key] = self._value()

    def _strange_number(self, event: Table) -> None:
        holder, key = self._place(event)
        holder[key] = self._rng.choice(NUMBERS)

    def _strange_time(self, event: Table) -> None:
        place = event["changes"] if isinstance(event.get("changes"), dict) and self._rng.random() < 0.6 else event
        place["at"] = self._rng.choice(TIMES)

    def _strange_text(self, event: Table) -> None:
        event[self._rng.choice(("id", "by", "note", "text", "reason", "sortie", "task", "kind"))] = self._rng.choice(TEXTS)

    def _gone(self, event: Table) -> None:
        holder, key = self._place(event)
        if holder is not event or len(event) > 1:
            del holder[key]

    def _more(self, event: Table) -> None:
        names = ("seq", "received", "entered_by", "sortie", "figures", "lanes", "changes", "event", "chosen", "all", "x")
        event[self._rng.choice(names)] = self._value()

    def _other_kind(self, event: Table) -> None:
        event["kind"] = self._rng.choice(list(KINDS))

    def _taken_id(self, event: Table) -> None:
        event["id"] = self._rng.choice(self._ids)

    def _long_list(self, event: Table) -> None:
        one = self._rng.choice((self._lane(), self._task(), "x", 1, None, {}, []))
        many = [one] * LONG if self._rng.random() < 0.6 else [f"T{n}" for n in range(LONG)]
        event[self._rng.choice(("lanes", "tasks", "defer", "note", "task", "chosen"))] = many

    def _long_table(self, event: Table) -> None:
        event[self._rng.choice(("trim", "changes", "chosen", "figures"))] = {f"T{n}": n for n in range(LONG)}

    def _nested(self, event: Table) -> None:
        value: Any = 1
        for _ in range(self._rng.choice((5, 47, 49, 51, 200))):
            value = [value] if self._rng.random() < 0.5 else {"a": value}
        event[self._rng.choice(("chosen", "changes", "note", "figures", "task"))] = value

    def _itself(self, event: Table) -> None:
        """Answers itself, or adds a task that waits for itself."""
        if isinstance(event.get("task"), dict):
            name = event["task"].get("id", "X1")
            event["task"][self._rng.choice(("after", "obliges", "serves", "can_move_to"))] = [name]
            event["before"] = name
        else:
            event.update(kind=self._rng.choice(("amend", "withdraw")), event=event.get("id", "m0"))

    def _chain(self, event: Table) -> None:
        """Answers the newest event, which is often an answer as well."""
        event.update(kind=self._rng.choice(("amend", "withdraw")), event=self._ids[-1])

    def _late_or_early(self, event: Table) -> None:
        event["at"] = self._at(self._rng.choice((-60 * 24 * 400, -1500, -1, 0, 74.99, 75, 75.02, 90, 419, 500, 1439,
            60 * 24 * 30)))

    # -- damage of the text

    def _cut(self, body: bytes) -> bytes:
        return body[: self._rng.randrange(len(body))]

    def _one_byte(self, body: bytes) -> bytes:
        where = self._rng.randrange(len(body))
        return body[:where] + bytes([self._rng.randrange(256)]) + body[where + 1 :]

    def _twice(self, body: bytes) -> bytes:
        return body + body

    def _key_twice(self, body: bytes) -> bytes:
        return body[:-1] + b', "kind": "note", "at": null}'

    def _raw_number(self, body: bytes) -> bytes:
        word = self._rng.choice((b"NaN", b"Infinity", b"-Infinity", b"1e999", b"1" * 401, b"-0", b"01", b"0x10", b"1_000",
            b"1e-400"))
        return body[:-1] + b', "remaining": ' + word + b', "duration": ' + word + b"}"

    def _half_character(self, body: bytes) -> bytes:
        return body[:-1] + self._rng.choice((b', "by": "\\ud800"}', b', "by": "\\u0000"}', b', "by": "\xff\xfe"}',
            b', "by": "\xed\xa0\x80"}'))

    def _in_a_list(self, body: bytes) -> bytes:
        return self._rng.choice((b"[%s]", b"[%s, 1]", b"[[%s]]", b"[%s, null, \"x\", []]", b"[%s, %s]")).replace(b"%s", body)

    def _no_object(self, body: bytes) -> bytes:
        return self._rng.choice((b"", b"null", b"1", b'"x"', b"[]", b"{}", b"[" * 5000, b'{"a":' * 2000, b"\xef\xbb\xbf{}",
            b"\x00", b" "))


CHANGES: dict[Callable[[Mutator, Table], None], float] = {  # and how often; about half of the mutants can still be understood
    Mutator._at_the_edge: 16, Mutator._late_or_early: 9, Mutator._chain: 4, Mutator._itself: 4, Mutator._words: 4,
    Mutator._strange_value: 4, Mutator._strange_number: 2, Mutator._strange_time: 3, Mutator._strange_text: 1.5, Mutator._gone: 1,
    Mutator._more: 1, Mutator._other_kind: 0.5, Mutator._taken_id: 1, Mutator._long_list: 1, Mutator._long_table: 0.5,
    Mutator._nested: 1,
}  # fmt: skip
OF_A_TASK = (
    "duration", "start", "not_before", "closeout", "after", "serves", "obliges", "can_move_to", "follows", "needs", "value",
    "priority", "workload", "worksite", "leg", "together", "activity", "shortest", "required", "boxed", "get_ahead",
)  # fmt: skip
DAMAGES: tuple[Callable[[Mutator, bytes], bytes], ...] = (
    Mutator._cut, Mutator._one_byte, Mutator._twice, Mutator._key_twice, Mutator._raw_number, Mutator._half_character,
    Mutator._in_a_list, Mutator._no_object,
)  # fmt: skip
