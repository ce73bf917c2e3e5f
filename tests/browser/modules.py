"""The browser's modules as a test reaches them: those that the page runs, or the pure ones alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver

ASSETS = Path(__file__).parents[2] / "assets"
FOLDER = ASSETS / "board"
ALL = tuple(sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.js")))
NAMES = tuple(name for name in ALL if not name.startswith("plan/"))  # of the board; those of the plan page would start it
PURE = tuple(sorted(path.relative_to(ASSETS).as_posix() for path in ASSETS.rglob("pure/*.js")))
# Under the last part of their names; a module is loaded once per page, so the page's own is what is had.
EXPOSE = """
const [folder, names, done] = arguments;
Promise.all(names.map((name) => import(folder + name))).then((all) => {
    window.modules = Object.fromEntries(names.map((name, at) => [name.replace(/^.*\\/|\\.js$/g, ""), all[at]]));
    done(null);
}, (wrong) => done(String(wrong)));
"""


def expose(driver: webdriver.Chrome, folder: str, names: tuple[str, ...]) -> None:
    """Make modules of the page reachable for scripts, as `modules.moment` and so on.

    Parameters
    ----------
    driver : webdriver.Chrome
    folder : str
        The address that their names stand under.
    names : tuple of str
        As in `NAMES`. The entry of the board would start a second time under another address than the page's.
    """
    wrong: Any = driver.execute_async_script(EXPOSE, folder, list(names))
    if wrong is not None:
        pytest.fail(f"the modules cannot be loaded: {wrong}")


def expose_page(driver: webdriver.Chrome) -> None:
    """Make all modules that the board on the page runs reachable for scripts."""
    entry: str = driver.execute_script("return document.querySelector('script[type=module]').src")
    expose(driver, entry.removesuffix("main.js"), NAMES)
