"""A value recalled, not read, never decides alone: the rule of this folder's README, held to by reading its files.

A number counts as recalled when a docstring or comment here has `MEMORY` within the same phrase, right after it. Where such a
number stands in the code of a test, the test's docstring must name what it is held against besides: READ or COMPUTED, or
the outside library that computes it.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent
FILES = sorted(path for path in FOLDER.glob("*.py") if path.name != Path(__file__).name)
RECALLED = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)(?:(?! and |READ|[:;|])[^\n\d]){0,40}\(?[\w, ]{0,12}MEMORY")
BESIDE = re.compile(r"READ|COMPUTED|networkx|scipy|quadrature")


def recalled_in(source: str) -> set[float]:
    """Numbers that a file says are from memory."""
    return {float(number) for number in RECALLED.findall(source)}


def decided_alone(source: str) -> list[str]:
    """Functions and tables that use a recalled number in code with nothing named beside it."""
    recalled = recalled_in(source)
    found = []
    for node in ast.parse(source).body:
        told = ast.get_docstring(node) or "" if isinstance(node, ast.FunctionDef) else ""
        numbers = {c.value for c in ast.walk(node) if isinstance(c, ast.Constant) and isinstance(c.value, int | float)}
        used = sorted(n for n in numbers if n in recalled)
        if used and not BESIDE.search(told):
            found.append(f"line {node.lineno}: {used}")
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_no_check_rests_on_a_recalled_number_alone(path):
    """Every file with published values."""
    assert decided_alone(path.read_text(encoding="utf-8")) == []


def test_a_test_that_says_memory_says_what_decides_besides():
    """In its docstring, or it decides nothing by numbers: no test of this folder speaks of memory alone."""
    alone = [
        f"{path.name}: {node.name}"
        for path in FILES for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and "memory" in (told := ast.get_docstring(node) or "").lower()
        and not BESIDE.search(told)
    ]
    assert alone == []


def test_a_row_of_the_table_that_says_memory_names_what_decides():
    """README: a row whose status is MEMORY also says READ, COMPUTED or the library that decides."""
    rows = [line for line in (FOLDER / "README.md").read_text(encoding="utf-8").splitlines() if line.startswith("|")]
    of_memory = [row for row in rows if "MEMORY" in row]
    assert of_memory
    assert [row for row in of_memory if not BESIDE.search(row)] == []


@pytest.mark.parametrize(
    ("source", "caught"),
    [
        ('def test_a():\n    """0.093 kg/h (BVAD, MEMORY)."""\n    assert use() / 0.093 < 2\n', True),
        ('def test_a():\n    """0.093 kg/h (MEMORY); 0.084 COMPUTED."""\n    assert use() / 0.093 < 2\n', False),
        ('"""P = 0.8413 from MEMORY."""\nCASES = {"a": 0.8413}\n', True),
        ('"""P = 0.8413 from MEMORY."""\nCASES = {"a": 0.8935}\n', False),
        ('X = 12  # kg, MEMORY\n', True),
        ('X = 12  # kg, READ; the loss is MEMORY\n', False),
    ],
)
def test_the_rule_catches_what_it_should(source, caught):
    """A recalled number in an assertion or a table is found; one with a companion, or only told of, is not."""
    assert bool(decided_alone(source)) is caught
