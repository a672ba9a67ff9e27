"""The application: layers, routers, errors, all around one house."""

import asyncio
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager

from fastapi import APIRouter, Depends, FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.staticfiles import StaticFiles

import dawnlevel
from dawnlevel.errors import DawnlevelError
from dawnlevel.store.store import utc_now
from dawnlevel.web import problems
from dawnlevel.web.house import open_house, warm
from dawnlevel.web.pages import STATIC
from dawnlevel.web.practice import routes as practice_routes
from dawnlevel.web.practice.bench import BASE
from dawnlevel.web.practice.door import Benches, PracticeDoor
from dawnlevel.web.routes import PRACTISED, ROUTERS
from dawnlevel.web.routes.api import API_ABOUT, describe
from dawnlevel.web.security.gate import Gate
from dawnlevel.web.security.headers import Headers
from dawnlevel.web.security.tokens import guarded
from dawnlevel.web.settings import Clock, Settings


def create_app(settings: Settings, clock: Clock = utc_now, wall: Clock = utc_now) -> FastAPI:
    """The web application for the store that `settings` names.

    `clock` is the time the tanks live in, `wall` the one that sessions and codes run out by.
    Raises StoreError where the store or the web's own files cannot be used.
    """
    house, benches = open_house(settings, clock, wall), Benches()

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        del app
        warming = asyncio.create_task(run_in_threadpool(warm, house))
        yield
        await warming
        await run_in_threadpool(benches.close)
        await run_in_threadpool(house.close)

    app = FastAPI(
        title="Dawnlevel",
        version=dawnlevel.__version__,
        description=API_ABOUT,
        openapi_url="/api/openapi.json",
        docs_url=None,  # its pages load from another host
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.house, app.state.benches = house, benches
    app.openapi = lambda: describe(app, house.sessions.cookie)  # type: ignore[method-assign]  # FastAPI's own way
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    _furnish(app, (*ROUTERS, practice_routes.router))
    practised = FastAPI(openapi_url=None)
    _furnish(practised, PRACTISED)
    app.mount(BASE, PracticeDoor(practised, benches), name="practised")
    app.add_middleware(
        Gate,
        sessions=house.sessions,
        devices=house.devices,
        is_lan=settings.is_lan,
        refuse=problems.tell,
    )
    app.add_middleware(Headers)
    return app


def _furnish(app: FastAPI, routers: Iterable[APIRouter]) -> None:
    """Routers behind the form tokens, and our way of telling what went wrong."""
    for router in routers:
        app.include_router(router, dependencies=[Depends(guarded)])
    app.add_exception_handler(DawnlevelError, problems.on_our_error)
    app.add_exception_handler(HTTPException, problems.on_http_error)
    app.add_exception_handler(RequestValidationError, problems.on_bad_request)
