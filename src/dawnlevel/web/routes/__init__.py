"""One module a topic; each has a `router`, and stands in the list below."""

from fastapi import APIRouter

from dawnlevel.web.routes import (
    api,
    baseline,
    entrance,
    entries,
    exchange,
    live,
    overview,
    plan,
    records,
    setup,
    spread,
    today,
    why,
)

ROUTERS: tuple[APIRouter, ...] = (
    overview.router,
    today.router,
    plan.router,
    why.router,
    baseline.router,
    spread.router,
    entries.router,
    live.router,
    entrance.router,
    setup.router,
    records.router,
    exchange.router,
    api.router,
)
