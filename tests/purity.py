"""The search for what the core may not do: read a clock or a file, print, or import a module that can.

The core may import its own rooms, the packages of `PACKAGES` and the modules of `STANDARD`. All others are found, however
they are imported. The import contract in `pyproject.toml` covers the rooms above the core and every other package.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.house import ROOT

CORE = Path("dashboard", "core")

PACKAGES = {"numpy", "ortools", "pydantic"}
# Modules of the standard library that reach neither a clock nor a file. `datetime` can read the clock in three ways: `CLOCK`.
STANDARD = {
    "__future__", "abc", "bisect", "collections", "contextlib", "copy", "dataclasses", "datetime", "decimal", "difflib", "enum",
    "fractions", "functools", "hashlib", "heapq", "itertools", "json", "math", "operator", "re", "statistics", "string",
    "textwrap", "types", "typing", "unicodedata", "zlib",
}  # fmt: skip
CLOCK = {"now", "utcnow", "today"}
# The last six import by a name, or run text as code: what they reach cannot be searched for.
BUILTINS = {"open", "print", "input", "breakpoint", "__import__", "__builtins__", "__loader__", "eval", "exec", "compile"}
# Methods of paths and arrays that read or write a file.
FILE_METHODS = {
    "read_text", "write_text", "read_bytes", "write_bytes", "open", "touch", "unlink", "mkdir", "iterdir", "load", "save",
    "savez", "savetxt", "loadtxt", "genfromtxt", "fromfile", "tofile", "memmap",
}  # fmt: skip


def modules(root: Path = ROOT) -> list[Path]:
    """Every module of the core of a checkout, in every room and at any depth."""
    return sorted((root / CORE).rglob("*.py"))


def impurities(source: str) -> list[str]:
    """The places of a source that read a clock or a file, print, or import what the core may not import.

    Parameters
    ----------
    source : str
        A module of Python.

    Returns
    -------
    list of str
        For each place its line and what stands there, in the order of the lines.
    """
    tree = ast.parse(source)
    clocks = _names_of_clocks(tree)
    found = [(node.lineno, what) for node in ast.walk(tree) for what in _wrong(node, clocks)]
    return [f"line {line}: {what}" for line, what in sorted(found)]


def _wrong(node: ast.AST, clocks: set[str]) -> Iterator[str]:
    match node:
        case ast.Import(names=names):
            yield from (f"import {name.name}" for name in names if not _may_be_imported(name.name))
        case ast.ImportFrom(module=module, level=level) if level or not _may_be_imported(module or ""):
            yield f"from {'.' * level}{module or ''} import"
        case ast.Name(id=name) if name in BUILTINS:
            yield name
        case ast.Attribute(attr=name, value=value) if name in CLOCK and clocks & _names_in(value):
            yield name
        case ast.Call(func=ast.Attribute(attr=name)) if name in CLOCK | FILE_METHODS:
            yield f"{name}()"
        case ast.Call(func=ast.Name(id="getattr"), args=[_, ast.Constant(value=str(name)), *_]) if name in CLOCK | FILE_METHODS:
            yield f"getattr {name!r}"


def _may_be_imported(module: str) -> bool:
    top, _, rest = module.partition(".")
    return top in PACKAGES | STANDARD or (top == "dashboard" and rest.partition(".")[0] == "core")


def _names_of_clocks(tree: ast.Module) -> set[str]:
    """The names under which the module has `datetime`, its classes, or the module itself."""
    found = set()
    for node in ast.walk(tree):
        match node:
            case ast.Import(names=names):
                found |= {one.asname or one.name for one in names if one.name == "datetime"}
            case ast.ImportFrom(module="datetime", names=names):
                found |= {one.asname or one.name for one in names if one.name in ("datetime", "date", "*")}
    return found


def _names_in(value: ast.expr) -> set[str]:
    return {node.id for node in ast.walk(value) if isinstance(node, ast.Name)}
