"""The application: the pages of the board on the server of the HTTP interface."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from dash import Dash
from dash.development.base_component import ComponentRegistry
from dash.exceptions import DependencyException
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from dashboard.markup import Markup, text
from dashboard.screens import page
from dashboard.screens.plan_page import plan_layout
from dashboard.service.access.audit import Audit
from dashboard.service.access.keys import Keys
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.http.headers import ContentPolicy
from dashboard.service.http.live_push import HEARTBEAT_S
from dashboard.service.http.modules import AGAIN, add_modules, assets_folder, read_modules
from dashboard.service.http.unknown_pages import add_unknown_pages, refuse_callbacks
from dashboard.service.http.wall import WallAddress

PLAN, PLAN_ENTRY = "/plan/", "plan/main.js"
GRID_LIBRARY = "dash_ag_grid"
MODULES = "board"  # the folder of the JavaScript modules in the assets
SCRIPTS = r"\.js$"  # Dash would load them as classic scripts, in the order of their names


def make_app(
    desk: Desk, keys: Keys | None = None, hosts: frozenset[str] | None = None, audit: Audit | None = None,
    runs: Path | None = None, plan_file: Path | None = None, touring: bool = False,
) -> Dash:
    """Make the board, the plan page and the HTTP interface of a desk.

    Parameters
    ----------
    desk
        The desk that they show.
    keys
        Who may do what; None: everyone may enter events and record decisions.
    hosts
        Host names that requests may use; None: any.
    audit
        Where refusals are recorded; None: a record of its own, on standard error alone.
    runs
        Folder of plans and recorded runs that the page ``/runs`` lists; None: it says how to name one.
    plan_file
        The plan file that the server was started with, which the plan page may change; None: it changes none.
    touring
        Whether the board offers the guided tour.

    Returns
    -------
    Dash
        Its `server` is the ASGI application to serve.
    """
    policy = ContentPolicy()
    server = make_api(desk, keys, hosts, policy, audit, runs, plan_file)
    for address in (PLAN, "/"):
        refuse_callbacks(server, address)
    modules = read_modules(assets_folder() / MODULES)
    add_modules(server, modules)
    server.add_api_route(PLAN.rstrip("/"), _plan_page, include_in_schema=False)
    plan = _dash(server, "Plan - Tetherline", PLAN)
    plan.layout = plan_layout(desk.plan)
    page.register(plan, modules.elements(PLAN_ENTRY), HEARTBEAT_S)
    app = _dash(server, _title(desk.session.rehearsal))
    _without_grid(app)
    shown = page.page_layout(
        desk.plan, replaying=desk.session.run is not None, rehearsal=desk.session.rehearsal, touring=touring
    )
    page.register(app, modules.elements(), HEARTBEAT_S, shown)
    policy.allow_scripts([*app.csp_hashes(), *plan.csp_hashes()])
    policy.allow_handler(AGAIN)
    server.add_middleware(WallAddress)
    server.add_exception_handler(DependencyException, _no_component)
    add_unknown_pages(server)
    return app


def _dash(server: FastAPI, title: Markup | str, address: str = "/") -> Dash:
    """A page of Dash on the server."""
    return Dash(
        "dashboard",
        server=server,  # type: ignore[arg-type]  # any ASGI application of the backend will do
        backend="fastapi",
        url_base_pathname=address,
        assets_folder=str(assets_folder()),
        assets_ignore=SCRIPTS,
        title=title,
        update_title="",
    )


def _without_grid(app: Dash) -> None:
    """Keep the scripts of the grid, more than a megabyte, out of a page without one. Dash gives each page those of all pages."""
    others = [name for name in ComponentRegistry.registry if name != GRID_LIBRARY]
    app.scripts.get_all_scripts = partial(app.scripts.get_library_scripts, others)  # type: ignore[method-assign]


async def _plan_page(request: Request) -> Response:
    """Lead to the plan page, with what stands behind the address."""
    return RedirectResponse(str(request.url.replace(scheme="", netloc="", path=PLAN)), 307)


async def _no_component(request: Request, _: Exception) -> Response:
    """Answer a request for a script that no component of the page has."""
    return PlainTextResponse(f"There is nothing at {request.url.path}.\n", 404)


def _title(rehearsal: str) -> Markup:
    """The title of the page, escaped for HTML. Braces are escaped too, since Dash fills names in braces in its page."""
    return text(f"{rehearsal} - Tetherline" if rehearsal else "Tetherline").replace("{", page.BRACE)
