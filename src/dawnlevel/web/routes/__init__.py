"""One module a topic; each has a `router`, and stands in the list below."""

from fastapi import APIRouter

from dawnlevel.web.routes import (
    api,
    baseline,
    care,
    entrance,
    entries,
    exchange,
    gear,
    handover,
    live,
    overview,
    owners,
    plan,
    records,
    setup,
    shelf,
    spread,
    today,
    trouble,
    watch,
    watch_log,
    whatif,
    why,
)

ROUTERS: tuple[APIRouter, ...] = (
    overview.router,
    today.router,
    plan.router,
    why.router,
    handover.router,
    owners.router,
    trouble.router,
    baseline.router,
    spread.router,
    watch_log.router,
    watch.router,
    care.router,
    whatif.router,
    entries.router,
    live.router,
    entrance.router,
    setup.router,
    gear.router,
    shelf.router,
    records.router,
    exchange.router,
    api.router,
)

PRACTISED: tuple[APIRouter, ...] = (
    overview.router,
    today.router,
    baseline.router,
    plan.router,
    why.router,
    entries.router,
    records.router,
)
"""What is served for a practice tank too; a tank is neither described nor brought in from a file there."""
