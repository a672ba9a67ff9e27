"""Who gets in: hosts, origins, sessions, tokens, pairing, limits, headers; nothing without a session."""

import re
import stat
import string
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import cast

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.routing import Mount, Route
from web_world import BROOK, HERE, World, make_world, tokens

from dawnlevel.web.practice.door import PracticeDoor
from dawnlevel.web.security.gate import BODY_LIMIT, FILE_LIMIT
from dawnlevel.web.security.sessions import LASTS

OPEN = {"/pair"}
TIGHT = ("'unsafe-inline'", "'unsafe-eval'", "http:", "https:", "*", "data:")


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path, is_lan=True)


def paired(world: World, name: str = "Phone", address: str = "192.168.7.20") -> TestClient:
    """A device of the home network that has been let in."""
    device = world.far(address)
    device.get("/pair")
    answer = device.post("/pair", data={"code": world.codes[-1], "name": name})
    assert answer.status_code == 303, answer.text
    return device


def every_route(world: World) -> list[tuple[str, str]]:
    """Method and path of everything that is served but files, path parameters filled in."""
    found = []
    pending = [("", route) for route in world.app.routes]
    while pending:
        base, route = pending.pop()
        if isinstance(route, Mount) and isinstance(route.app, PracticeDoor):
            pages = cast("FastAPI", route.app.pages)
            pending += [(route.path, inner) for inner in pages.routes]
        elif isinstance(route, Mount):
            assert route.path == "/static"
        elif isinstance(route, Route) or hasattr(route, "methods"):
            path = base + re.sub(r"\{(key)[^}]*\}", "Brook", route.path)  # type: ignore[attr-defined]
            path = re.sub(r"\{[^}]+\}", "1", path)
            found += [(method, path) for method in route.methods or () if method != "HEAD"]  # type: ignore[attr-defined]
        else:  # routers may be kept whole
            pending += [(base, inner) for inner in route.original_router.routes]  # type: ignore[attr-defined]
    return found


def test_every_route_is_refused_without_a_session(world: World) -> None:
    stranger = world.far()
    routes = every_route(world)
    assert len(routes) > 40
    assert ("POST", "/practice/tanks/Brook/record") in routes
    for method, path in routes:
        answer = stranger.request(method, path)
        if path in OPEN:
            assert answer.status_code != 401, path
        else:
            assert answer.status_code == 401, (method, path)
            assert "mg/L" not in answer.text
            assert "set-cookie" not in answer.headers
    assert stranger.get("/static/base.css").status_code == 200
    assert stranger.get("/static/../app.py").status_code in {401, 404}
    assert stranger.get("/static/%2e%2e/app.py").status_code == 404


def test_every_change_is_refused_without_a_form_token(world: World) -> None:
    here = world.local()
    begun = here.post("/practice/begin", data=tokens(here.get("/practice").text))
    assert begun.status_code == 303  # else its door would send every change away before its form is looked at
    changes = [(method, path) for method, path in every_route(world) if method != "GET" and path not in OPEN]
    assert len(changes) >= 20
    for method, path in changes:
        for headers in ({}, {"X-Dawnlevel-Token": "0" * 64}):
            assert here.request(method, path, headers=headers).status_code == 403, path
    other = paired(world)
    assert (
        here.post(
            f"{BROOK}/record", data=tokens(other.get("/devices").text) | {"kind": "ph", "value": "7"}
        ).status_code
        == 403
    )  # another device's token


def test_this_computer_is_let_in_and_told_so_once(world: World) -> None:
    here = world.local()
    first = here.get("/devices")
    assert first.status_code == 200
    cookie = first.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert f"Max-Age={int(LASTS.total_seconds())}" in cookie
    assert "set-cookie" not in here.get("/devices").headers
    world.local().get("/devices")
    assert [device.is_local for device in world.house.devices.every()] == [True]


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "", "[::1", "10.0.0.1.evil.example"]
)
def test_borrowed_names_are_refused(world: World, host: str) -> None:
    assert world.local().get("/tanks", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("header", ["Forwarded", "X-Forwarded-For", "X-Real-IP", "Via"])
def test_what_a_proxy_passes_on_is_not_this_computer(world: World, header: str) -> None:
    assert world.local().get("/devices", headers={header: "127.0.0.1"}).status_code == 401


def test_without_lan_only_loopback_names_are_answered(tmp_path: Path) -> None:
    world = make_world(tmp_path)
    assert world.local().get("/devices", headers={"host": "192.168.7.2:8420"}).status_code == 421
    assert world.local().get("/devices", headers={"host": "localhost:8420"}).status_code == 200
    assert world.local().get("/devices", headers={"host": "[::1]:8420"}).status_code == 200
    far = TestClient(world.app, base_url=HERE, client=("192.168.7.20", 5), follow_redirects=False)
    assert far.get("/devices").status_code == 401  # the name alone lets nobody in
    assert far.post("/pair", data={"code": "ABCD-EFGH"}).status_code == 403
    assert not world.codes


def test_pages_of_other_sites_cannot_send_forms(world: World) -> None:
    here = world.local()
    form = {**tokens(here.get("/devices").text), "kind": "ph", "value": "7.0"}
    for headers in (
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},  # another port of this computer
    ):
        assert here.post(f"{BROOK}/record", data=form, headers=headers).status_code == 403
    fine = {"origin": HERE, "sec-fetch-site": "same-origin"}
    assert here.post(f"{BROOK}/record", data=form, headers=fine).status_code == 303


def test_a_device_is_paired_once_with_the_code(world: World) -> None:
    phone = paired(world)
    assert phone.get("/devices").status_code == 200
    second = world.far("192.168.7.21")
    assert second.post("/pair", data={"code": world.codes[0]}).status_code == 422  # used up
    assert len(world.codes) == 2  # and a new one is shown in the terminal
    assert second.post("/pair", data={"code": world.codes[1].lower().replace("-", " ")}).status_code == 303
    assert len(set(world.codes)) == len(world.codes)


def test_a_code_runs_out(world: World) -> None:
    phone = world.far()
    phone.get("/pair")
    world.wall.pass_by(timedelta(minutes=10))
    assert phone.post("/pair", data={"code": world.codes[0]}).status_code == 422


def test_a_filled_in_code_stays_a_form_to_be_sent(world: World) -> None:
    phone = world.far()
    phone.get("/pair")
    page = phone.get("/pair", params={"code": world.codes[0]})
    assert f'value="{world.codes[0]}"' in page.text
    assert phone.get("/devices").status_code == 401


def test_guessing_is_limited_and_voids_the_code(world: World) -> None:
    guesser = world.far()
    guesser.get("/pair")
    told = [guesser.post("/pair", data={"code": f"AAAA-AAA{figure}"}).status_code for figure in range(2, 9)]
    assert told == [422] * 5 + [429] * 2
    late = guesser.post("/pair", data={"code": world.codes[0]})
    assert late.status_code == 429
    assert int(late.headers["retry-after"]) <= 601
    assert paired(world, address="192.168.7.99")  # somebody else still gets in, with the new code
    world.wall.pass_by(timedelta(minutes=11))
    assert guesser.post("/pair", data={"code": "AAAA-AAAA"}).status_code == 422


def test_a_device_sent_away_is_out_at_once(world: World) -> None:
    phone = paired(world)
    here = world.local()
    page = here.get("/devices").text
    assert "Phone" in page
    place = re.search(r'action="(/devices/[^"]+/send-away)"', page)
    assert place
    assert here.post(place[1], data=tokens(page)).status_code == 303
    assert phone.get("/devices").status_code == 401
    assert here.post(place[1], data=tokens(page)).status_code == 404


def test_sessions_run_out_and_are_renewed_by_use(world: World) -> None:
    phone, idle = paired(world), paired(world, address="192.168.7.30")
    kept = dict(idle.cookies)
    world.wall.pass_by(timedelta(days=60))
    assert "set-cookie" in phone.get("/devices").headers
    world.wall.pass_by(timedelta(days=31))
    assert phone.get("/devices").status_code == 200
    stale = world.far("192.168.7.30")
    stale.cookies.update(kept)
    assert stale.get("/devices").status_code == 401


def test_a_forged_or_altered_cookie_lets_nobody_in(world: World, tmp_path: Path) -> None:
    phone = paired(world)
    ((name, value),) = phone.cookies.items()
    (tmp_path / "other").mkdir()
    elsewhere = paired(make_world(tmp_path / "other", is_lan=True))
    for forged in (value[:-1] + ("A" if value[-1] != "A" else "B"), "", "x.y", elsewhere.cookies[name]):
        stranger = world.far()
        stranger.cookies.set(name, forged)
        assert stranger.get("/devices").status_code == 401
    letters = string.ascii_letters + string.digits + "-_."
    assert world.house.sessions.read(value)
    for place, letter in enumerate(value):  # the last letter holds idle bits: every other is tried there
        others = letters if place == len(value) - 1 else letters[letters.index(letter) - 1]
        for other in others.replace(letter, ""):
            assert world.house.sessions.read(value[:place] + other + value[place + 1 :]) is None


def test_secrets_are_their_owners_alone(world: World, tmp_path: Path) -> None:
    paired(world)
    for name in ("records.web.key", "records.web.sqlite3"):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600
    key = (tmp_path / "records.web.key").read_text()
    assert len(key) == 64
    again = make_world_again(world)
    assert again.app.state.house.kept.key == key


def make_world_again(world: World) -> World:
    """The same store served anew, as after a restart."""
    from dawnlevel.web.app import create_app  # noqa: PLC0415 - only this test starts a server twice

    return World(
        create_app(world.house.settings, world.clock, world.wall), world.store, world.clock, world.wall
    )


def test_a_session_outlives_the_server(world: World) -> None:
    phone = paired(world)
    again = make_world_again(world).far()
    again.cookies.update(dict(phone.cookies))
    assert again.get("/devices").status_code == 200


def test_every_answer_carries_the_headers(world: World) -> None:
    here = world.local()
    answers = [here.get(path) for path in ("/devices", "/nope", "/static/base.css", "/api/tanks")]
    answers += [world.far().get("/tanks"), here.get("/tanks", headers={"host": "evil.example"})]
    for answer in answers:
        policy = answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'")
        assert not [word for word in TIGHT if word in policy]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"
        assert answer.headers["referrer-policy"] == "same-origin"
    assert answers[0].headers["cache-control"] == "no-store"


def test_pages_hold_nothing_the_policy_would_stop(world: World) -> None:
    here = world.local()
    pages = [here.get(path).text for path in (BROOK, "/tanks", "/devices", "/distress", "/nope")]
    pages.append(world.far().get("/pair").text)
    for page in pages:
        assert not re.search(r"<script(?![^>]* src=\"/static/)", page)
        assert not re.search(r"\son[a-z]+=", page)
        assert not re.search(r"\sstyle=", page)
        assert "<style" not in page
        named = set(re.findall(r"(?:src|href|action)=\"(https?:[^\"]*)", page))
        assert not named


def test_too_much_is_refused(world: World) -> None:
    here = world.local()
    token = tokens(here.get("/devices").text)
    much = {**token, "kind": "ph", "value": "7" * (BODY_LIMIT + 1)}
    assert here.post(f"{BROOK}/record", data=much).status_code == 413

    def drip() -> Iterator[bytes]:
        for _ in range(BODY_LIMIT // 1024 + 2):
            yield b"a" * 1024

    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert here.post(f"{BROOK}/record", content=drip(), headers=kind).status_code == 413


def test_a_file_of_records_may_be_larger_but_not_endless(world: World) -> None:
    here = world.local()
    form = tokens(here.get("/devices").text)
    rows = "".join(
        f"2026-05-06T0{7 if n < 900 else 6}:{n % 900 // 60:02d}:{n % 60:02d}+00:00,Brook,ph,6.9,,,\n"
        for n in range(1800)
    )
    table = "time,tank,quantity,value,unit,method,note\n" + rows
    assert len(table) > BODY_LIMIT
    sent = here.post(f"{BROOK}/import", data=form, files={"file": ("year.csv", table)})
    assert sent.status_code == 303
    much = b"x" * (FILE_LIMIT + 1)
    assert here.post(f"{BROOK}/import", data=form, files={"file": ("more.csv", much)}).status_code == 413
    stranger = world.far().post(f"{BROOK}/import", data=form, files={"file": ("year.csv", table)})
    assert stranger.status_code in {401, 421}
