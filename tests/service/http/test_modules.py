"""The browser's modules over HTTP: one address per version, and nothing of another version under it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from dashboard.log.store import EventStore
from dashboard.service.app import MODULES, assets_folder, make_app
from dashboard.service.desk import Desk
from dashboard.service.http.modules import Modules, add_modules, read_modules
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.local import LOCAL
from tests.screens.plans import plain_plan
from tests.waiting import DEADLINE_S

FILES = {"main.js": b'import "./pure/a.js";\n', "pure/a.js": b"export const a = 1;\n"}


@pytest.fixture(scope="module")
def client() -> Iterator[httpx.Client]:
    """A server with two modules."""
    server = FastAPI()
    add_modules(server, Modules(FILES))
    with LiveServer(server) as live, httpx.Client(base_url=live.url, **LOCAL) as client:
        yield client


def test_each_module_stands_under_the_address_of_its_version(client: httpx.Client) -> None:
    """As JavaScript, and to be kept for good: the address never means anything else."""
    for name, content in FILES.items():
        answer = client.get(f"/modules/{Modules(FILES).stamp}/{name}")
        assert (answer.status_code, answer.content) == (200, content)
        assert answer.headers["content-type"].startswith("text/javascript")
        assert "immutable" in answer.headers["cache-control"]


def test_another_version_is_not_found_and_that_is_not_kept(client: httpx.Client) -> None:
    """A page of an earlier server gets no module of this one."""
    answer = client.get("/modules/0123456789abcdef/main.js")
    assert answer.status_code == 404 and answer.headers["cache-control"] == "no-store"
    assert client.get(f"/modules/{Modules(FILES).stamp}/other.js").status_code == 404


@pytest.mark.parametrize(
    "files",
    [{**FILES, "main.js": b'import "./pure/b.js";\n'}, {"main.js": FILES["main.js"], "pure/b.js": FILES["pure/a.js"]},
     {**FILES, "more.js": b""}, {"main.js": FILES["main.js"] + FILES["pure/a.js"], "pure/a.js": b""}],
)  # fmt: skip
def test_any_change_of_a_module_is_another_version(files: dict[str, bytes]) -> None:
    """Of its content, its name, and how many there are."""
    assert Modules(files).stamp != Modules(FILES).stamp
    assert Modules(dict(reversed(FILES.items()))).stamp == Modules(FILES).stamp


def test_a_renewed_installation_does_not_reach_a_server_that_runs(tmp_path: Path) -> None:
    """The modules are those of its start."""
    (tmp_path / "main.js").write_bytes(b"export const version = 1;\n")
    modules = read_modules(tmp_path)
    server = FastAPI()
    add_modules(server, modules)
    (tmp_path / "main.js").write_bytes(b"export const version = 2;\n")
    with LiveServer(server) as live:
        answer = httpx.get(f"{live.url}/modules/{modules.stamp}/main.js", **LOCAL, timeout=DEADLINE_S)
    assert answer.content == b"export const version = 1;\n"
    assert read_modules(tmp_path).stamp != modules.stamp


def test_the_page_loads_the_modules_and_no_classic_script_of_ours() -> None:
    """All that the board needs are asked for ahead, and the entry is run; Dash adds none of the assets itself."""
    plan = plain_plan()
    app = make_app(Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id))))
    with LiveServer(app.server) as live, httpx.Client(base_url=live.url, **LOCAL) as client:
        page = client.get("/").text
        found = re.findall(r'<link rel="modulepreload" href="([^"]+)">', page)
        modules = read_modules(assets_folder() / MODULES)
        assert found == [f"/modules/{modules.stamp}/{name}" for name in sorted(modules.needed("main.js"))]
        assert re.findall(r'<script type="module" src="([^"]+)"', page) == [f"/modules/{modules.stamp}/main.js"]
        assert {client.get(address).status_code for address in found} == {200}
        assert [src for src in re.findall(r'<script src="([^"]+)"', page) if "assets/" in src] == []


def test_a_page_loads_its_entry_and_what_that_imports() -> None:
    """Directly or through another module; nothing of another page, and nothing that is not there."""
    files = {
        **FILES, "plan/main.js": b'import "./gone.js";\nimport { b } from "./b.js";\n',
        "plan/b.js": b'import {\n  a,\n} from "../pure/a.js";\n', "plan/other.js": b"",
    }  # fmt: skip
    modules = Modules(files)
    assert modules.needed("plan/main.js") == {"plan/main.js", "plan/b.js", "pure/a.js"}
    page = modules.elements("plan/main.js")
    assert f'src="/modules/{modules.stamp}/plan/main.js"' in page and "plan/other.js" not in page
