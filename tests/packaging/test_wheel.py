"""The program as a stranger gets it: one wheel, installed into an empty environment, run from an empty folder.

The environment holds the wheel alone. Its dependencies are lent by the environment of the tests, as an extra entry of
the module path: quick, and without a network. Links to a checkout in that environment are not followed from there, so
what runs is the wheel; `test_what_runs_is_the_wheel` sees to it.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import sysconfig
import threading
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

from dashboard import __version__
from dashboard.service.http.modules import read_modules
from tests.command import state_of
from tests.local import LOCAL
from tests.waiting import DEADLINE_S

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Installed:
    """The wheel in its environment, and the empty folder to run it from."""

    programs: Path
    folder: Path

    def environment(self) -> dict[str, str]:
        """The environment variables of a new shell, without what points at other Python code."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
        return {**kept, "PYTHONNOUSERSITE": "1", "PYTHONIOENCODING": "utf-8"}

    def run(self, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run a program of the environment to its end."""
        return subprocess.run(
            [self.programs / program, *arguments],
            cwd=self.folder,
            env=self.environment(),
            capture_output=True,
            encoding="utf-8",
            timeout=DEADLINE_S,
        )

    def python(self, code: str) -> str:
        """What a line of Python prints."""
        done = self.run("python", "-c", code)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the checkout."""
    out = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = out.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """The wheel, installed."""
    place = tmp_path_factory.mktemp("stranger")
    environment, folder = place / "environment", place / "empty"
    folder.mkdir()
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", environment], check=True, timeout=DEADLINE_S)
    paths = sysconfig.get_paths(vars={"base": str(environment), "platbase": str(environment)})
    lent = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    Path(paths["purelib"], "lent.pth").write_text("\n".join(sorted(lent)), encoding="utf-8")
    programs = Path(paths["scripts"])
    command = [sys.executable, "-m", "pip", "--python", str(programs / "python"), "install", "--quiet", "--no-deps"]
    done = subprocess.run(
        [*command, "--no-index", "--ignore-installed", str(wheel)], capture_output=True, encoding="utf-8", timeout=DEADLINE_S
    )
    assert done.returncode == 0, done.stderr
    return Installed(programs, folder)


def test_the_wheel_carries_program_scenarios_and_assets_and_no_more(wheel: Path) -> None:
    """Everything the board needs at run time is inside: none of the tests, and nothing at the top but two packages."""
    with zipfile.ZipFile(wheel) as contents:
        names = set(contents.namelist())
    wanted = {f"dashboard/{path.relative_to(ROOT).as_posix()}" for path in files_of("assets")}
    wanted |= {path.relative_to(ROOT).as_posix() for path in files_of("dashboard") + files_of("replay")}
    assert any(name.endswith(".css") for name in wanted) and any(name.endswith("/plan.toml") for name in wanted)
    assert {name for name in names if ".dist-info/" not in name} == wanted
    assert any(name.endswith("/licenses/LICENSE") for name in names)


def files_of(folder: str) -> list[Path]:
    """The files of a folder of the checkout, without what running the program writes beside them."""
    found = [path for path in (ROOT / folder).rglob("*") if path.is_file()]
    return [path for path in found if "__pycache__" not in path.parts and ".sqlite" not in path.name]


def test_what_runs_is_the_wheel(installed: Installed) -> None:
    """Both packages come from the environment, neither from the checkout."""
    code = "import dashboard, replay; print(dashboard.__file__); print(replay.__file__)"
    for place in installed.python(code).splitlines():
        assert Path(place).is_relative_to(installed.programs.parent), place


def test_the_command_answers(installed: Installed) -> None:
    """Help lists the commands, and the version is the one of the source."""
    told = installed.run("tetherline", "--help")
    assert told.returncode == 0, told.stderr
    for command in ("demo", "check", "serve", "replay", "state"):
        assert re.search(rf"^\W*{command}\b", told.stdout, re.MULTILINE), told.stdout
    assert installed.run("tetherline", "--version").stdout.split() == ["tetherline", __version__]


def test_the_packaged_plans_are_sound(installed: Installed) -> None:
    """`tetherline check` finds each plan that comes with the program, and no error in it; it says how likely it is in time."""
    folders = installed.python(
        "from replay.recording import packaged_scenarios\n"
        "for folder in packaged_scenarios().values(): print(folder)"
    ).splitlines()
    assert folders
    for folder in folders:
        assert Path(folder).is_relative_to(installed.programs.parent)
        done = installed.run("tetherline", "check", str(Path(folder) / "plan.toml"))
        assert done.returncode == 0, done.stdout + done.stderr
        assert "error: " not in done.stdout and "likely in by the limit" in done.stdout


@pytest.fixture(scope="module")
def demo(installed: Installed) -> Iterator[str]:
    """The address that `tetherline demo` prints; the program runs until the tests are through."""
    process = subprocess.Popen(
        [installed.programs / "tetherline", "demo", "--port", "0", "--no-browser"],
        cwd=installed.folder,
        env=installed.environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
    )
    too_late = threading.Timer(60, process.kill)
    too_late.start()
    try:
        assert process.stdout is not None
        printed = ""
        while not (address := re.search(r"http://[\w.:]+", printed)):
            line = process.stdout.readline()
            assert line, f"the demo ended without an address: {printed}"
            printed += line
        yield address.group()
    finally:
        too_late.cancel()
        process.terminate()
        process.communicate(timeout=DEADLINE_S)


def test_the_demo_serves_the_board_with_its_styles_and_scripts(demo: str) -> None:
    """The pages answer, and ask for every style sheet and script; each is served as it stands in the checkout."""
    with httpx.Client(base_url=demo, **LOCAL, timeout=DEADLINE_S) as client:
        pages = [client.get(address, follow_redirects=True) for address in ("/", "/plan", "/brief")]
        assert [page.status_code for page in pages] == [200] * len(pages) and "Tetherline" in pages[0].text
        waiting = read_modules(ROOT / "assets" / "waiting", "/waiting/modules")  # of a page that is seldom there for long
        asked = "".join(page.text for page in pages) + str(waiting.elements())
        for path in files_of("assets"):
            if path.suffix in (".css", ".js"):
                name = re.sub(r"^(board|brief|waiting)/", "", path.relative_to(ROOT / "assets").as_posix())
                folder = "assets" if path.suffix == ".css" else r"[\w/-]*modules/\w+"
                addresses = set(re.findall(rf'/?{folder}/{re.escape(name)}[^"]*', asked))
                assert addresses, f"no page asks for {path.name}"
                assert path.read_bytes() in [client.get("/" + one.lstrip("/")).content for one in addresses], path


def test_the_demo_follows_a_run(demo: str) -> None:
    """The state of a sortie is there, with its caution."""
    state = state_of(demo)
    assert state["tasks"] and state["lanes"]
    assert state["mode"] == "replay"
