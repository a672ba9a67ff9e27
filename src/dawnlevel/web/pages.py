"""Rendering: the templates, the words they may use, and what every page knows."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response
from starlette.routing import NoMatchFound

from dawnlevel.desk import phrases
from dawnlevel.desk.animals.whatif_words import brief_text, hours_text
from dawnlevel.desk.saying import say
from dawnlevel.desk.wording import percent, rate_text
from dawnlevel.web.addresses import owner_path, tank_path
from dawnlevel.web.house import AtTank, house_of
from dawnlevel.web.once import new_token
from dawnlevel.web.wording import in_web_words

FOLDER = Path(__file__).parent
STATIC = FOLDER / "static"


@dataclass(frozen=True, slots=True)
class NavEntry:
    """A page of a tank in the menu: its route's name, what follows the tank in its address, its label.

    Those that are not main stand folded away, unless one is there.
    """

    route: str
    path: str
    label: str
    is_main: bool = True


TANK_PAGES: list[NavEntry] = [
    NavEntry("today", "", "Today"),
    NavEntry("plan", "/plan", "Plan"),
    NavEntry("why", "/why", "Why"),
    NavEntry("records", "/records", "Records"),
    NavEntry("watch", "/watch", "Steady", is_main=False),
    NavEntry("trouble", "/trouble", "Trouble", is_main=False),
    NavEntry("baseline", "/baseline", "Baseline", is_main=False),
    NavEntry("gear", "/gear", "Gear", is_main=False),
    NavEntry("room", "/room", "Room", is_main=False),
    NavEntry("solution", "/solution", "Solution", is_main=False),
    NavEntry("animals", "/animals", "Animals", is_main=False),
    NavEntry("spread", "/spread", "Spread", is_main=False),
    NavEntry("whatif", "/whatif", "What if", is_main=False),
    NavEntry("description", "/description", "Tank", is_main=False),
]
"""The pages of a tank, in the order of the menu; a new page is added here."""


def _when(moment: datetime, zone: ZoneInfo, now: datetime) -> str:
    """Wall-clock time, with the day where that is not today."""
    local = moment.astimezone(zone)
    is_today = local.date() == now.astimezone(zone).date()
    return phrases.clock(local) if is_today else f"{local:%a} {phrases.clock(local)}"


def _held_together(figure: str) -> str:
    """A figure that no line breaks from its sign."""
    return figure.replace(" %", "\N{NO-BREAK SPACE}%")


def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "clock": phrases.clock,
        "date": phrases.date_text,
        "day": phrases.day_text,
        "when": _when,
        "span": phrases.span_text,
        "spread": phrases.spread,
        "chance": lambda share: _held_together(phrases.chance(share)),
        "gas_runs": phrases.gas_runs,
        "percent": lambda share: _held_together(percent(share)),
        "rate": rate_text,
        "said": say,
        "web_words": in_web_words,
    }
    made.globals |= {
        "time_left": phrases.time_left,
        "quantity": phrases.quantity_text,
        "bound_text": phrases.bound_text,
        "hours_text": hours_text,
        "brief_text": brief_text,
        "until_text": phrases.until_text,
        "target": phrases.band_text,
        "distress_steps": phrases.distress_steps,
        "new_entry": new_token,
        "minutes": lambda count: timedelta(minutes=count),
        "svg": Markup,  # only for drawings of our own
    }
    return made


ENVIRONMENT = _environment()


def page(
    request: Request, template: str, *, tank: AtTank | None = None, status: int = 200, **context: object
) -> Response:
    """The page that `template` makes of `context`; `tank` is the one it is about, if any."""
    text = render(template, {**_known(request, tank), **context})
    return HTMLResponse(text, status_code=status)


def render(template: str, context: Mapping[str, Any]) -> str:
    """The text that `template` makes of `context`."""
    return ENVIRONMENT.get_template(template).render(**context)


def _known(request: Request, tank: AtTank | None) -> dict[str, Any]:
    """What the layout needs: who asks, the tank, the menu, where distress is told."""
    house, device = house_of(request), request.scope["state"].get("device")
    names = house.store.tank_names() if device is not None else []

    def has_page(route: str) -> bool:
        try:
            request.app.url_path_for(route, key="-")
        except NoMatchFound:
            return False
        return True

    return {
        "request": request,
        "device": device,
        "form_token": house.sessions.form_token(device.id) if device is not None else "",
        "tank": tank,
        "tank_names": names,
        "distress_tank": _distress_tank(tank, names),
        "menu": [entry for entry in TANK_PAGES if has_page(entry.route)],
        "has_page": has_page,
        "base": house.base,
        "aside": house.aside.told() if house.aside is not None and device is not None else None,
        "owner_path": lambda owner, rest: house.base + owner_path(owner, rest),
        "tank_path": lambda name, rest="": house.base + tank_path(name, rest),
        "place": request.scope["route"].name if "route" in request.scope else "",
    }


def _distress_tank(tank: AtTank | None, names: list[str]) -> str | None:
    """For which tank the distress button records without asking."""
    if tank is not None:
        return tank.name
    return names[0] if len(names) == 1 else None
