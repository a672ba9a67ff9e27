"""One module a topic; each has a `router`, and stands in the list below."""

from fastapi import APIRouter

from dawnlevel.web.routes import api, entrance, entries, live, overview, plan, setup, today, why

ROUTERS: tuple[APIRouter, ...] = (
    overview.router,
    today.router,
    plan.router,
    why.router,
    entries.router,
    live.router,
    entrance.router,
    setup.router,
    api.router,
)
