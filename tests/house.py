"""The checkout and its project file, for the tests that look at the program itself. Each file is read once."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
# What `dash[fastapi]` brings, and the program imports for itself.
BROUGHT = {"fastapi", "starlette", "uvicorn"}


@cache
def text_of(path: Path) -> str:
    """What a file of the checkout holds."""
    return path.read_text(encoding="utf-8")


def statements(source: str) -> Iterator[ast.Module | ast.stmt]:
    """The module that a Python source is, and all its statements at any depth."""
    left: list[ast.AST] = [ast.parse(source)]
    while left:
        node = left.pop()
        if isinstance(node, ast.Module | ast.stmt):
            yield node
        for name in ("body", "orelse", "finalbody", "handlers", "cases"):
            left.extend(getattr(node, name, ()))
