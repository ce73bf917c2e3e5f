"""Order among the browser's modules: explicit imports, no circles, nothing global, and no name or id of their own."""

from __future__ import annotations

import re
from graphlib import CycleError, TopologicalSorter
from pathlib import Path, PurePosixPath

import pytest

from dashboard.screens import ids

FOLDER = Path(__file__).parents[1] / "assets" / "board"
SOURCES = {path.relative_to(FOLDER).as_posix(): path.read_text(encoding="utf-8") for path in sorted(FOLDER.rglob("*.js"))}
PURE = [name for name in SOURCES if name.startswith("pure/")]
ENTRIES = ["main.js", "plan/main.js"]  # of the board, and of the plan page
TABLE = ids.table()

COMMENT = re.compile(r"^\s*//.*$|\s//\s.*$", re.MULTILINE)
IMPORT = re.compile(r'^import [^;]*? from "([^"]+)";$', re.MULTILINE)
GLOBAL = re.compile(r"\b(?:window|globalThis|self)(?:\.\w+)+\s*=(?!=)|\b(?:window|globalThis|self)\[")
OUTSIDE = re.compile(
    r"\b(?:document|window|globalThis|localStorage|sessionStorage|fetch|performance|location|navigator|WebSocket)\b"
)
NOW = re.compile(r"\bDate\.now\(|\bnew Date\(\)")
QUOTED = re.compile(r'"([^"\n]*)"')
MEMBER = re.compile(rf"\b({'|'.join(TABLE)})\.([A-Z][A-Z_]*)\b")
FINDS = re.compile(r"getElementById\(|querySelector(?:All)?\(\"[^\"]*#")
# Ids with a hyphen are words that nothing else is called by.
IDS = {value for enum, members in TABLE.items() for value in members.values() if "-" in value}


def code(name: str) -> str:
    """A module without its comments."""
    return COMMENT.sub("", SOURCES[name])


def imports(name: str) -> list[str]:
    """The modules that a module imports, as paths in the folder."""
    found = []
    for written in IMPORT.findall(code(name)):
        assert written.startswith("."), f"{name}: {written}"
        parts: list[str] = []
        for part in (PurePosixPath(name).parent / written).parts:
            parts = parts[:-1] if part == ".." else [*parts, part]
        found.append("/".join(parts))
    return found


def unknown_members(source: str) -> list[str]:
    """Members of the shared enums that a source uses and the server does not have."""
    return [f"{enum}.{member}" for enum, member in MEMBER.findall(source) if member not in TABLE[enum]]


def repeated_ids(source: str) -> list[str]:
    """Ids of the server that stand in a source as texts."""
    return [text for text in QUOTED.findall(source) if text in IDS]


def test_every_module_is_reached_from_an_entry_by_its_imports() -> None:
    """And every import names a module that is there."""
    reached, ahead = set(), list(ENTRIES)
    while ahead:
        name = ahead.pop()
        if name not in reached:
            reached.add(name)
            ahead += imports(name)
    assert reached == set(SOURCES)


def test_imports_make_no_circle() -> None:
    """A module in a circle may run before what it imports."""
    assert tuple(TopologicalSorter({name: imports(name) for name in SOURCES}).static_order())
    with pytest.raises(CycleError):
        tuple(TopologicalSorter({"a.js": ["b.js"], "b.js": ["a.js"]}).static_order())


def test_every_export_is_imported_by_someone() -> None:
    """Of the pure modules some are exported for their tests alone; a region answers to the entry by its own names."""
    answered = {"pressed", "acts", "sent", "listen", "draw", "tick"}
    whole = "\n".join(code(name) for name in SOURCES)
    for name in set(SOURCES) - set(PURE):
        for exported in re.findall(r"^export (?:async )?(?:function|const|class) (\w+)", code(name), re.MULTILINE):
            stem = PurePosixPath(name).stem
            is_used = re.search(rf"import [^;]*\b{exported}\b[^;]* from \"[./]+{stem}\.js\"|\b{stem}\.{exported}\b", whole)
            assert exported in answered or is_used, f"{name}: {exported}"


@pytest.mark.parametrize("name", SOURCES)
def test_a_module_leaves_nothing_global(name: str) -> None:
    """What a module gives to others it exports."""
    assert GLOBAL.findall(code(name)) == []


@pytest.mark.parametrize("name", PURE)
def test_a_pure_module_knows_no_page_no_server_and_no_clock(name: str) -> None:
    """It imports pure modules alone, and what it says depends on what it is given."""
    assert [one for one in imports(name) if not one.startswith("pure/")] == []
    assert OUTSIDE.findall(code(name)) + NOW.findall(code(name)) == []


@pytest.mark.parametrize("name", SOURCES)
def test_ids_are_those_of_the_server(name: str) -> None:
    """Every name that is used exists in `dashboard.screens.ids`, and none is written out a second time."""
    assert unknown_members(code(name)) == []
    assert repeated_ids(code(name)) == ([ids.Page.SENT] if name == "ids.js" else [])
    assert name in ("dom.js", "ids.js") or FINDS.findall(code(name)) == []


def test_the_browser_takes_over_only_enums_that_the_server_has() -> None:
    """And each of them is used."""
    (taken,) = re.findall(r"export const \{([^}]+)\} = sent\.ids;", SOURCES["ids.js"])
    names = re.findall(r"\w+", taken)
    assert set(names) <= set(TABLE)
    used = {enum for name in SOURCES for enum, _ in MEMBER.findall(code(name))}
    assert used == set(names)


BRIEF = {path.relative_to(FOLDER.parent / "brief").as_posix(): path.read_text(encoding="utf-8")
         for path in sorted((FOLDER.parent / "brief").rglob("*.js"))}  # fmt: skip


def test_the_page_of_what_is_being_made_needs_one_module_and_leaves_nothing_global() -> None:
    """It imports nothing."""
    (path,) = sorted((FOLDER.parent / "waiting").rglob("*"))
    source = COMMENT.sub("", path.read_text(encoding="utf-8"))
    assert path.name == "main.js" and IMPORT.findall(source) == [] == GLOBAL.findall(source)


@pytest.mark.parametrize("name", BRIEF)
def test_the_modules_of_the_brief_keep_the_same_order(name: str) -> None:
    """They import what is there, leave nothing global, and the pure one knows no page, no server and no clock."""
    source = COMMENT.sub("", BRIEF[name])
    named = [(PurePosixPath(name).parent / written).as_posix() for written in IMPORT.findall(source)]
    assert set(named) <= set(BRIEF) and GLOBAL.findall(source) == []
    if name.startswith("pure/"):
        assert OUTSIDE.findall(source) + NOW.findall(source) == [] == named
    elif name != "main.js":
        assert any(f'from "./{name}"' in other for other in BRIEF.values())


@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        (GLOBAL, "window.board = {};"), (GLOBAL, 'globalThis["board"] = 1;'), (OUTSIDE, "document.title"),
        (OUTSIDE, "fetch('/api')"), (NOW, "Date.now()"), (FINDS, 'document.getElementById("log")'),
        (FINDS, 'document.querySelector("#log-rows tr")'), (FINDS, 'document.querySelectorAll("main #log")'),
    ],
)  # fmt: skip
def test_what_is_forbidden_would_be_found(pattern: re.Pattern[str], text: str) -> None:
    """The patterns find what they are for."""
    assert pattern.search(text)


def test_a_wrong_or_repeated_id_would_be_found() -> None:
    """A member that is not there, and an id as a text."""
    assert unknown_members("byId(Log.ROW); byId(Log.ROWS)") == ["Log.ROW"]
    assert repeated_ids('byId("log-rows")') == ["log-rows"]
