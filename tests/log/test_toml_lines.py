"""Every table, key and list entry is found on its line, whatever TOML allows in between."""

from __future__ import annotations

import tomllib
from typing import Any

import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from dashboard.log.toml_lines import line_numbers

TRICKY = '''# [not a table]
[sortie]  # a comment with [brackets] and = signs
id = "lantern"
note = "a # no comment, [no table], \\" no end"
literal = 'C:\\[task]'
long = """first line
[[task]]
id = "not this"
ends with quotes"" """"
raw = \'\'\'
[[task]]
\'\'\'

[[task]]
id = "T010"
lanes = [
    "EV1",  # [the lead]
    "EV2",
]
follows = [{ task = "T0]0", lag = 5 }, { task = "T{0", lag = 6 }]
duration = [30,
            40, 65]

[[task]]
"id" = "T020"
worksite.id = "mast"
start = 07:00:00

[[contingency]]
id = "leak"
[[contingency.task]]
id = "C010"
[[contingency.task]]
id = "C020"
[[contingency]]
[[contingency.task]]
id = "C030"

[alternative.options]
"b c" = [[], ["T010"]]
'''


def test_lines_of_a_plan_full_of_traps() -> None:
    """Brackets in strings and comments, lists over lines, inline tables and nested arrays of tables."""
    lines = line_numbers(TRICKY)
    text = TRICKY.split("\n")
    assert "[sortie]" in text[lines["sortie",] - 1]
    assert text[lines["sortie", "raw"] - 1].startswith("raw")
    assert text[lines["task", 0] - 1] == "[[task]]"
    assert lines["task", 0] == 14
    assert '"EV2"' in text[lines["task", 0, "lanes", 1] - 1]
    assert lines["task", 0, "follows", 1, "lag"] == lines["task", 0, "follows"]
    assert text[lines["task", 0, "duration", 2] - 1].strip() == "40, 65]"
    assert text[lines["task", 1, "id"] - 1] == '"id" = "T020"'
    assert text[lines["task", 1, "worksite", "id"] - 1].startswith("worksite.id")
    assert text[lines["contingency", 0, "task", 1, "id"] - 1] == 'id = "C020"'
    assert text[lines["contingency", 1, "task", 0, "id"] - 1] == 'id = "C030"'
    assert text[lines["alternative", "options", "b c", 1, 0] - 1].startswith('"b c"')


def test_every_value_of_the_plan_has_a_line() -> None:
    """The scanner and the standard reader agree on what is there."""
    assert _places(tomllib.loads(TRICKY)) <= line_numbers(TRICKY).keys()


def test_windows_line_ends_count_as_one() -> None:
    """The same lines, saved on another machine."""
    assert line_numbers(TRICKY.replace("\n", "\r\n")) == line_numbers(TRICKY)


NAMES = st.text(min_size=1, max_size=6)
LEAVES = st.one_of(st.text(max_size=12), st.integers(0, 99), st.booleans(), st.floats(0, 1e6))
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3), max_leaves=10
)


@given(st.dictionaries(NAMES, VALUES, max_size=5))
def test_every_value_of_any_toml_has_a_line(tables: dict[str, Any]) -> None:
    """Whatever a TOML writer makes of any tables, each key and entry is found."""
    text = tomlkit.dumps(tables)
    lines = line_numbers(text)
    assert _places(tomllib.loads(text)) <= lines.keys()
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())


def _places(value: Any, place: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = {place} if place else set()
    for key, part in parts:
        found |= _places(part, (*place, key))
    return found
