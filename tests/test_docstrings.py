"""Public functions say what they take, what they give and what they raise, in the sections of NumPy style.

Public is what has no underscore in its name, at the top of a module or of a public class there. A method without a docstring of
its own is judged by the one that it inherits. The commands of the command line are left out: their docstrings are help texts,
and their options carry texts of their own.
"""

import ast
import importlib
import inspect
import pkgutil
import re
import textwrap
import types
from collections.abc import Callable, Iterator

import pytest
import typer

import dashboard
import replay


def _modules() -> list[str]:
    packages = (dashboard, replay)
    found = [info.name for one in packages for info in pkgutil.walk_packages(one.__path__, one.__name__ + ".")]
    return [name for name in found if not name.endswith("__main__")]


def _functions(module: types.ModuleType) -> Iterator[tuple[str, Callable]]:
    for name, thing in vars(module).items():
        if name.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(thing):
            yield name, thing
        elif inspect.isclass(thing):
            for method, member in vars(thing).items():
                function = getattr(member, "__func__", member)
                if not method.startswith("_") and inspect.isfunction(function):
                    yield f"{name}.{method}", getattr(thing, method)


def _commands(module: types.ModuleType) -> list[Callable | None]:
    """The functions that `app` of a module of the command line calls."""
    app = getattr(module, "app", None)
    if not isinstance(app, typer.Typer):
        return []
    groups = [app.registered_callback] if app.registered_callback else []
    return [one.callback for one in [*app.registered_commands, *groups]]


def _raised(function: Callable) -> set[str]:
    """Names of the classes that the function's own `raise` statements name; what never happens is no error to expect."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(function))).body[0]
    found: set[str] = set()

    def walk(node: ast.AST) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda, ast.ClassDef)):
                continue
            if isinstance(child, ast.Raise):
                named = child.exc.func if isinstance(child.exc, ast.Call) else child.exc
                found.add(named.id if isinstance(named, ast.Name) else "")
            walk(child)

    walk(tree)
    return {name for name in found if name[:1].isupper() and name != "AssertionError"}


def _section(text: str, title: str) -> str | None:
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w+\n-+\n|\Z)", text, re.MULTILINE | re.DOTALL)
    return found.group(1) if found else None


def missing(function: Callable) -> list[str]:
    """What the docstring of one function lacks, in words; empty where it lacks nothing."""
    text = inspect.getdoc(function) or ""
    plain = inspect.unwrap(getattr(function, "__func__", function))
    names = [name for name in inspect.signature(plain).parameters if name not in ("self", "cls")]
    lacks = [] if text else ["a docstring"]
    described = _section(text, "Parameters") or ""
    heads = re.findall(r"^\S.*", described, re.MULTILINE)
    listed = {name.strip(" *") for head in heads for name in head.split(":")[0].split(",")}
    lacks += [f"the parameter {name}" for name in names if name not in listed]
    gives = plain.__annotations__.get("return")
    if names and gives not in (None, "None", "NoReturn") and not (_section(text, "Returns") or _section(text, "Yields")):
        lacks.append("Returns")
    raises = _section(text, "Raises") or ""
    lacks += [f"Raises {name}" for name in sorted(_raised(plain)) if name not in raises]
    return lacks


@pytest.mark.parametrize("name", _modules())
def test_public_functions_say_what_they_take_give_and_raise(name):
    """Each public function of the module has the sections that it needs."""
    module = importlib.import_module(name)
    commands = _commands(module)
    judged = [(label, function) for label, function in _functions(module) if function not in commands]
    lacking = {label: lacks for label, function in judged if (lacks := missing(function))}
    assert not lacking


def test_a_function_without_sections_is_found():
    """The check finds what is missing."""

    def function(limit_min: float) -> float:
        """Give half the limit."""
        if limit_min < 0:
            raise ValueError(limit_min)
        return limit_min / 2

    assert missing(function) == ["the parameter limit_min", "Returns", "Raises ValueError"]


def test_a_function_with_its_sections_passes():
    """The check accepts what is complete."""

    def function(limit_min: float) -> float:
        """
        Give half the limit.

        Parameters
        ----------
        limit_min
            The limit, in minutes.

        Returns
        -------
        float
            Half of it, in minutes.

        Raises
        ------
        ValueError
            When the limit is negative.
        """
        if limit_min < 0:
            raise ValueError(limit_min)
        return limit_min / 2

    assert missing(function) == []
