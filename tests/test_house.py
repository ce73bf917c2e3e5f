"""Order in the house: what stands where, what may not stand anywhere, and that the documents speak of what exists."""

from __future__ import annotations

import ast
import io
import re
import socket
import sys
import tokenize
from collections.abc import Iterable, Iterator, Set
from functools import cache
from importlib import import_module
from importlib.metadata import packages_distributions
from operator import attrgetter
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from dashboard.cli.main import COMMANDS, command_of
from tests.conftest import OutsideAddress, is_loopback
from tests.house import BROUGHT, PROJECT, ROOT, statements, text_of

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "assets", "dashboard", "replay", "tests",
}  # fmt: skip
DOT_FILES = (".gitignore", ".ci", ".github")
TEXT = {".py", ".md", ".toml", ".sh", ".js", ".css", ".html", ".svg", ".csv", ".json", ".jsonl", ".txt", ".yml", ""}

# The one file that may name colours.
COLOURS = ROOT / "dashboard" / "figures" / "theme.py"
HEX_COLOUR = re.compile(r"(?<![\w&])#(?:[0-9a-fA-F]{8}|[0-9a-fA-F]{6}|[0-9a-fA-F]{3,4})(?![\w-])")
COLOUR_CALL = re.compile(r"\b(?:rgba?|hsla?|oklch|lab|lch)\(")

# Written in two parts, so that this file does not hold what it forbids.
NOWHERE = {
    "the address of a package registry": re.compile(
        "py" r"pi\.org|python" r"hosted\.org|npm" r"js\.(?:org|com)|crates" r"\.io|ana" r"conda\.org|index" "-url"
    ),
    "a path of one machine": re.compile(r"(?<![\w.~/}])/(?:wo" r"rk|t" r"mp|ro" r"ot|ho" r"me|Us" r"ers|o" r"pt)/"),
}
USED_WITHOUT_IMPORT: set[str] = set()


@cache
def text_files() -> tuple[Path, ...]:
    """The files of the repository that hold text."""
    tops = [ROOT / top for top in sorted(TOP_LEVEL | set(DOT_FILES))]
    return tuple(
        path for top in tops for path in ([top] if top.is_file() else sorted(top.rglob("*")))
        if path.suffix in TEXT and "__pycache__" not in path.parts and path.is_file()
    )


def lines_with(pattern: re.Pattern[str], files: Iterable[Path]) -> list[str]:
    """Each line of these files in which the pattern occurs, with its place."""
    return [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:120]}"
        for path in files if pattern.search(text_of(path))
        for number, line in enumerate(text_of(path).splitlines(), start=1)
        if pattern.search(line)
    ]


def test_the_top_level_holds_only_what_belongs_there() -> None:
    """Documents, licence, project file, and the four folders; the rest are dot-files."""
    assert {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("what", NOWHERE)
def test_no_file_holds(what: str) -> None:
    """Nothing in the repository depends on where it was written or where its packages came from."""
    assert lines_with(NOWHERE[what], text_files()) == []


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("the address of a package registry", "https://" + "py" + "pi.org/simple"),
        ("a path of one machine", "see " + "/t" + "mp/run.log"),
        ("a path of one machine", '"' + "/ho" + 'me/me/plan.toml"'),
    ],
)
def test_what_is_forbidden_would_be_found(what: str, text: str) -> None:
    """The patterns find what they are for."""
    assert NOWHERE[what].search(text)


def test_colours_stand_in_one_file() -> None:
    """No colour code outside the theme; style sheets use its variables."""
    program = [
        path
        for path in text_files()
        if path.relative_to(ROOT).parts[0] in ("dashboard", "assets", "replay") and path != COLOURS
    ]
    assert lines_with(HEX_COLOUR, program) == []
    assert lines_with(COLOUR_CALL, [path for path in program if path.suffix == ".css"]) == []
    assert lines_with(HEX_COLOUR, [COLOURS])


def files_missing(room: str, root: Path = ROOT) -> set[str]:
    """The test files that the modules of a room should have by their names, and do not have."""
    wanted = {
        path.relative_to(root / "dashboard").with_name(f"test_{path.name}")
        for path in (root / "dashboard" / room).rglob("*.py") if not path.name.startswith("__")
    }
    return {str(path) for path in wanted if not (root / "tests" / path).is_file()}


@pytest.mark.parametrize("room", ["core", "cli"])
def test_every_module_has_a_test_file_of_its_name(room: str) -> None:
    """`core/plan/check.py` is tested in `tests/core/plan/test_check.py`, and so on."""
    assert files_missing(room) == set()


def test_a_module_without_its_test_file_would_be_found(tmp_path: Path) -> None:
    """At any depth, and only while the file is not there."""
    for file in ("dashboard/core/plan/one.py", "dashboard/core/plan/deep/two.py", "tests/core/plan/test_one.py"):
        (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / file).touch()
    assert files_missing("core", tmp_path) == {"core/plan/deep/test_two.py"}


def imported_packages(folders: tuple[str, ...]) -> set[str]:
    """The distributions whose modules these folders import."""
    modules = set()
    for folder in folders:
        for path in (ROOT / folder).rglob("*.py"):
            for node in statements(text_of(path)):
                if isinstance(node, ast.Import):
                    modules |= {name.name.split(".")[0] for name in node.names}
                elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                    modules.add(node.module.split(".")[0])
    modules -= set(sys.stdlib_module_names) | {"dashboard", "replay", "tests"}
    known = packages_distributions()
    return {known[module][0].lower().replace("_", "-") for module in modules}


def test_the_program_declares_what_it_imports_and_nothing_else() -> None:
    """An installation brings every package that is used, and none that is not."""
    declared = {Requirement(text).name.lower() for text in PROJECT["project"]["dependencies"]}
    assert imported_packages(("dashboard", "replay")) - BROUGHT == declared - USED_WITHOUT_IMPORT


def test_every_command_stands_in_the_readme() -> None:
    """And the README speaks of no command that is not there."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = set(COMMANDS)
    assert set(re.findall(r"^(?:\S+ && )*(?:\S*/)?tetherline ([a-z-]+)", readme, re.MULTILINE)) - commands == set()
    assert {name for name in commands if f"tetherline {name}" not in readme} == set()


def test_the_readme_says_which_commands_print_json() -> None:
    """All that take --json, and no other."""
    readme = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    said = re.search(r"With `--json` these print JSON: (.+?)\. ", readme)
    takers = {name for name in COMMANDS if any("--json" in option.opts for option in command_of(name).params)}
    assert said is not None and set(re.findall(r"`([a-z-]+)`", said[1])) == takers


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_place_a_document_names_is_there(document: str) -> None:
    """Files and folders of the checkout that are named as such exist."""
    text = (ROOT / document).read_text(encoding="utf-8")
    places = set(re.findall(r"[`( ]((?:dashboard|assets|tests|replay|\.github)/[\w./-]*)", text))
    assert places
    assert {place for place in places if not (ROOT / place.rstrip(".")).exists()} == set()


# A file in backticks, such as `lane_time.py`, ``assets/board/sheet.js`` or `core/plan/check.py`.
NAMED_MODULE = re.compile(r"`((?:dashboard|replay|tests)(?:\.\w+)+)`")
COMMENT_WITH_A_NAME = re.compile(r"#.*`")
NAMED_FILE = re.compile(r"(`{1,2})([\w./-]*\w\.(?:py|js|css|toml))\1(?!`)")
FILES_OF_RUNS = {"plan.toml", "run.toml", "carry-over.toml"}  # the program's users have them, not the checkout


def comments_and_docstrings(source: str) -> Iterator[tuple[int, str]]:
    """The comments and docstrings of a Python file that hold a backtick, each with the number of its first line."""
    if COMMENT_WITH_A_NAME.search(source):
        for token in tokenize.generate_tokens(io.StringIO(source).readline):
            if token.type == tokenize.COMMENT and "`" in token.string:
                yield token.start[0], token.string
    for node in statements(source) if "`" in source else ():
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str):
                yield first.lineno, first.value.value


def files_named_but_absent(texts: Iterable[tuple[int, str]], files: Set[str]) -> list[str]:
    """Each file that these texts name in backticks and that is none of `files` nor the end of the path of one."""
    return [
        f"line {number + text[: found.start()].count(chr(10))}: {found[2]}"
        for number, text in texts
        for found in NAMED_FILE.finditer(text)
        if found[2] not in FILES_OF_RUNS and not any(f"/{path}".endswith(f"/{found[2]}") for path in files)
    ]


@cache
def texts_of_python_files() -> dict[Path, list[tuple[int, str]]]:
    """The comments and docstrings of each Python file in which names may stand."""
    return {path: list(comments_and_docstrings(text_of(path))) for path in text_files() if path.suffix == ".py"}


def test_every_file_that_a_docstring_or_comment_names_is_there() -> None:
    """In the Python files; a file that was moved or renamed is found where it is still called by its old name."""
    files = {path.relative_to(ROOT).as_posix() for path in text_files()}
    found = {path.relative_to(ROOT): files_named_but_absent(texts, files) for path, texts in texts_of_python_files().items()}
    assert {path: absent for path, absent in found.items() if absent} == {}
    assert len(found) > 500


@cache
def exists(name: str) -> bool:
    """Whether a dotted name is a package, a module, or something in a module."""
    for end in range(name.count(".") + 1, 0, -1):
        module, rest = ".".join(name.split(".")[:end]), name.split(".")[end:]
        if (ROOT / module.replace(".", "/")).is_dir() and not rest:
            return True
        if (ROOT / f"{module.replace('.', '/')}.py").is_file():
            try:
                return not rest or attrgetter(".".join(rest))(import_module(module)) is not None
            except AttributeError:
                return False
    return False


def test_every_module_that_a_docstring_or_comment_names_is_there() -> None:
    """With what is named in it: `dashboard.core.plan.check.build_plan` is found, a name from before a move is not."""
    wrong = [
        f"{path.relative_to(ROOT)}: {found[1]}"
        for path, texts in texts_of_python_files().items()
        for _, text in texts
        for found in NAMED_MODULE.finditer(text)
        if not exists(found[1])
    ]
    assert wrong == []
    assert exists("dashboard.core.plan.check.build_plan") and exists("dashboard.core")
    assert not exists("dashboard.core.plan.check.gone") and not exists("dashboard.core.gone.build_plan")


def test_every_file_that_a_comment_of_the_browser_modules_names_is_there() -> None:
    """The same for the modules and style sheets of the browser."""
    files = {path.relative_to(ROOT).as_posix() for path in text_files()}
    for path in (path for path in text_files() if path.suffix in (".js", ".css")):
        assert (path.name, files_named_but_absent([(1, text_of(path))], files)) == (path.name, [])


def test_a_file_that_is_not_there_would_be_found() -> None:
    """In docstrings and in comments, at any depth, with its line; other strings may hold any name."""
    source = '"""See `lane.py`.\n\nAnd ``a/b.py``."""\n\n\ndef f():\n    """As `gone.py`."""\n    return "`any.py`"  # `old.js`\n'
    texts = sorted(comments_and_docstrings(source))
    assert files_named_but_absent(texts, {"c/a/b.py"}) == ["line 1: lane.py", "line 7: gone.py", "line 8: old.js"]


def test_tests_cannot_reach_beyond_this_computer() -> None:
    """A connection to an outside address fails at once; loopback and local sockets are let through."""
    with socket.socket() as outside, pytest.raises(OutsideAddress, match=r"192\.0\.2\.1"):
        outside.connect(("192.0.2.1", 80))
    assert is_loopback(("127.0.0.1", 80)) and is_loopback(("::1", 80, 0, 0)) and is_loopback("a-local-socket")
    assert not is_loopback(("example.org", 80))
