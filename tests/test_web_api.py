"""The JSON side, and schemathesis against its own description of itself."""

import math
import subprocess
import sys
from pathlib import Path

import pytest
from advice_world import at
from fastapi.testclient import TestClient
from web_server import served
from web_world import World, make_world

from dawnlevel.desk.views import TodayView
from dawnlevel.tank import PhReading, TimerSetting

API = "/api/tanks/Brook"


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> World:
    """Brook without a morning: the estimate is as good, and made in no time."""
    return make_world(tmp_path_factory.mktemp("api"), records=[])


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


def headers(client: TestClient) -> dict[str, str]:
    return {"X-Dawnlevel-Token": client.get("/api/session").json()["token"]}


def test_today_is_the_desks_view(world: World) -> None:
    answer = world.local().get(f"{API}/today")
    view: TodayView = world.house.cases.today("Brook")
    told = answer.json()
    assert answer.status_code == 200
    assert told["action"]["text"] == view.action.text
    assert told["phase"] == view.phase.value
    assert math.isclose(told["now"]["co2_mg_l"]["median"], view.now.co2_mg_l.median)
    assert told["lights_on"].startswith("2026-05-06T13:00:00")
    assert len(told["picture"]["curve"]["at"]) == len(view.picture.curve.median)


def test_a_record_is_taken_once_and_undone(world: World) -> None:
    client = world.local()
    new = {"kind": "ph", "value": "6.97", "at": "12:01", "entry": "one-entry-of-mine"}
    first = client.post(f"{API}/records", json=new, headers=headers(client))
    again = client.post(f"{API}/records", json=new, headers=headers(client))
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert first.json()["said"] == "pH 6.97"
    assert PhReading(at=at(12, 1), ph=6.97) in world.records()
    number = first.json()["id"]
    assert client.get(f"{API}/records", params={"last": 1}).json()[0]["id"] == number
    for was_standing in (True, False):
        undone = client.post(f"{API}/records/{number}/undo", headers=headers(client))
        assert undone.json() == {"id": number, "was_standing": was_standing}
    assert PhReading(at=at(12, 1), ph=6.97) not in world.records()


def test_every_kind_is_read_in_a_keepers_words(calm: World) -> None:
    client = calm.local()
    for kind, value, more in (
        ("kh", "71mg/L", {}),
        ("baseline", "8.02", {"method": "aerated", "hours": "1h"}),
        ("gas", "open", {}),
        ("timer", "10:30-12:00;13:00-19:00", {}),
        ("water_change", "30%", {}),
    ):
        answer = client.post(
            f"{API}/records", json={"kind": kind, "value": value, **more}, headers=headers(client)
        )
        assert answer.status_code == 201, answer.text
    assert any(
        isinstance(r, TimerSetting) and r.windows_h == ((10.5, 12.0), (13.0, 19.0)) for r in calm.records()
    )


def test_what_cannot_be_taken_is_told_by_field(calm: World) -> None:
    client = calm.local()
    answer = client.post(
        f"{API}/records", json={"kind": "ph", "value": "wet", "at": "25:00"}, headers=headers(client)
    )
    assert answer.status_code == 422
    assert set(answer.json()["fields"]) == {"value", "at"}
    shapeless = client.post(f"{API}/records", json={"kind": "ph", "ph": 7}, headers=headers(client))
    assert shapeless.status_code == 422
    assert set(shapeless.json()["fields"]) == {"value", "ph"}
    assert client.get("/api/tanks/Nobody/today").status_code == 404
    assert client.get("/api/tanks/Nobody/today").json()["error"]["slug"] == "no-such-tank"


def test_what_the_records_cannot_tell_yet_is_said(tmp_path: Path) -> None:
    missing = make_world(tmp_path, records=[]).local().get(f"{API}/today")
    assert missing.status_code == 409
    assert missing.json()["error"]["slug"] == "not-enough-records"
    assert "dawnlevel cup" not in missing.text


def test_its_description_needs_a_session_too(calm: World) -> None:
    assert calm.far().get("/api/openapi.json").status_code == 421  # not opened to the network
    described = calm.local().get("/api/openapi.json").json()
    assert set(described["paths"]) == {
        "/api/session",
        "/api/tanks",
        "/api/tanks/{key}/today",
        "/api/tanks/{key}/records",
        "/api/tanks/{key}/records/{number}/undo",
    }


def test_schemathesis_finds_nothing(tmp_path: Path) -> None:
    """Every operation with data of the documented shape and not, asked as a paired device.

    One setting departs from its own: 422 is a documented answer to data of the right shape, since figures are
    read as a keeper writes them and a text may still be no pH.
    """
    world = make_world(tmp_path, is_lan=True, records=[])
    phone = world.house.devices.admit("Phone", is_local=False)
    sessions = world.house.sessions
    config = tmp_path / "schemathesis.toml"
    config.write_text(
        '[checks.positive_data_acceptance]\nexpected-statuses = ["2xx", 401, 403, 404, 409, 413, 422]\n'
        f'[auth.openapi.session]\napi_key = "{sessions.write(phone)}"\n'
        f'[auth.openapi.form_token]\napi_key = "{sessions.form_token(phone.id)}"\n'
        '[parameters]\n"path.key" = "Brook"\n'
    )
    described = tmp_path / "openapi.json"
    described.write_text(world.local().get("/api/openapi.json", headers={"host": "localhost"}).text)
    with served(world) as base:
        port = base.rpartition(":")[2]
        done = subprocess.run(
            [
                *(sys.executable, "-m", "schemathesis.cli", "--config-file", str(config), "run"),
                *(str(described), "--url", base),
                *("--header", f"Host: 192.168.7.2:{port}"),  # not a name of this computer's own
                *("--max-examples", "12", "--workers", "1", "--seed", "1", "--request-timeout", "60"),
                *("--generation-database", "none", "--no-color"),
            ],
            capture_output=True,
            text=True,
            check=False,
            timeout=900,
            cwd=tmp_path,
        )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
