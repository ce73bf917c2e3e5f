"""The server of a desk: every group of routes under ``/api``, the live push, the brief, and the debrief."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import APIRouter, Depends, FastAPI

from dashboard.service.access.audit import Audit
from dashboard.service.access.followed_key_file import LOOK_S
from dashboard.service.access.keys import Keys
from dashboard.service.answers.plan_file import PlanFile
from dashboard.service.desk import Desk
from dashboard.service.http.brief_routes import add_brief_routes
from dashboard.service.http.debrief_routes import add_debrief_routes
from dashboard.service.http.described import DescribedRoute
from dashboard.service.http.description import add_description
from dashboard.service.http.event_routes import add_event_routes
from dashboard.service.http.gate import Gate
from dashboard.service.http.headers import ContentPolicy, SafeHeaders
from dashboard.service.http.health_routes import add_health_routes
from dashboard.service.http.live_push import add_live_push
from dashboard.service.http.modules import add_modules, assets_folder, read_modules
from dashboard.service.http.plan_file_routes import add_plan_file_routes
from dashboard.service.http.problems import add_problem_answers
from dashboard.service.http.replay_routes import add_replay_routes
from dashboard.service.http.requests import known_parameters_only
from dashboard.service.http.run_routes import add_run_routes
from dashboard.service.http.sign_in_routes import add_sign_in_routes
from dashboard.service.http.state_routes import add_state_routes
from dashboard.service.http.visitors import Visitors
from dashboard.service.http.what_if_routes import add_what_if_routes


def make_api(
    desk: Desk,
    keys: Keys | None = None,
    hosts: frozenset[str] | None = None,
    policy: ContentPolicy | None = None,
    audit: Audit | None = None,
    runs: Path | None = None,
    plan_file: Path | None = None,
) -> FastAPI:
    """The server with every route except the pages of the board. It opens and closes the desk.

    Parameters
    ----------
    desk : Desk
        The sortie that is served.
    keys : Keys or None
        Who may do what; None: everyone is lead.
    hosts : frozenset of str or None
        The names it answers to, from `gate.hosts_of`; None: any name.
    policy : ContentPolicy or None
        What its pages may load and run; None: no script inside a page.
    audit : Audit or None
        Where refusals are recorded, closed with the desk; None: on standard error.
    runs : Path or None
        Folder of plans and recorded runs that are listed; None: none are.
    plan_file : Path or None
        The plan file that may be changed; None: none may.

    Returns
    -------
    FastAPI
        Ready to be served.
    """
    keys, audit = keys or Keys(), audit or Audit()
    visitors = Visitors(keys, audit)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        desk.open()
        following = asyncio.create_task(_follow_keys(keys))
        yield
        following.cancel()
        await asyncio.to_thread(desk.close)
        await asyncio.to_thread(audit.close)

    server = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, lifespan=lifespan)
    router = APIRouter(prefix="/api", route_class=DescribedRoute, dependencies=[Depends(known_parameters_only)])
    add_state_routes(router, desk)
    add_event_routes(router, desk, visitors)
    add_replay_routes(router, desk, visitors)
    add_what_if_routes(router, desk)
    add_plan_file_routes(router, PlanFile(desk, plan_file), visitors)
    brief_modules = read_modules(assets_folder() / "brief", "/brief/modules")
    add_modules(server, brief_modules)
    add_brief_routes(server, router, desk, visitors, brief_modules)
    waiting_modules = read_modules(assets_folder() / "waiting", "/waiting/modules")
    add_modules(server, waiting_modules)
    add_description(router)
    server.router.routes.extend(router.routes)  # to include the router would make every route a second time
    add_live_push(server, desk, visitors)
    add_health_routes(server, desk, keys)
    add_sign_in_routes(server, visitors)
    add_debrief_routes(server, desk, waiting_modules.elements())
    add_run_routes(server, desk, runs, waiting_modules.elements())
    add_problem_answers(server, visitors.forbidden)
    server.add_middleware(Gate, visitors=visitors, hosts=hosts)
    server.add_middleware(SafeHeaders, policy=policy or ContentPolicy())
    return server


async def _follow_keys(keys: Keys) -> None:
    """Read the key file again every `LOOK_S`, if there is one."""
    while keys.people is not None:
        await asyncio.sleep(LOOK_S)
        await asyncio.to_thread(keys.people.look)
