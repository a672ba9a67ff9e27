"""`dawnlevel serve` as a program: says where, answers, ends cleanly, and is plain about what it cannot do."""

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from advice_world import make_store

from dawnlevel.cli.app import run
from dawnlevel.web.security.codes import qr_text
from dawnlevel.web.security.hosts import is_known, name_in

COMMAND = [sys.executable, "-m", "dawnlevel.cli", "serve"]
PATIENCE_S = 120.0


@contextmanager
def serving(*arguments: str, **environment: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The server on a free port, and what it said until it was ready."""
    process = subprocess.Popen(
        [*COMMAND, "--port", "0", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | environment,
    )
    try:
        assert process.stdout
        said = ""
        while "Ctrl-C ends it." not in said:
            line = process.stdout.readline()
            assert line, said
            said += line
        yield process, said
    finally:
        process.kill()
        process.wait()


def address(said: str) -> str:
    found = re.search(r"http://127\.0\.0\.1:\d+/", said)
    assert found
    return found[0]


@pytest.fixture
def store(tmp_path: Path) -> str:
    return make_store(tmp_path / "records.sqlite3", records=[])


def test_it_says_where_answers_and_ends_on_ctrl_c_with_a_page_open(store: str) -> None:
    with serving("--store", store) as (process, said):
        assert store in said
        assert "pairing code" not in said
        client = httpx.Client(base_url=address(said), timeout=PATIENCE_S)
        assert client.get("/devices").status_code == 200
        assert "server" not in client.get("/devices").headers
        with client.stream("GET", "/tanks/Brook/events") as stream:  # which never ends by itself
            assert next(stream.iter_lines()) == "event: hello"
            process.send_signal(signal.SIGINT)
            left, _ = process.communicate(timeout=PATIENCE_S)
        assert process.returncode == 0
        assert left.strip() == "Stopped."


def test_lan_shows_a_code_that_pairs(store: str) -> None:
    with serving("--store", store, "--lan") as (_, said):
        code = re.search(r"pairing code: ([A-Z2-9]{4}-[A-Z2-9]{4}) ", said)
        assert code
        assert "in the home network: http://" in said
        assert said.count("█") + said.count("▀") + said.count("▄") > 100  # the code's picture
        port = address(said).rstrip("/").rpartition(":")[2]
        client = httpx.Client(
            base_url=address(said), headers={"host": f"192.168.7.2:{port}"}, timeout=PATIENCE_S
        )
        assert client.get("/tanks").status_code == 401
        paired = client.post("/pair", data={"code": code[1], "name": "Phone"})
        assert paired.status_code == 303
        cookie = paired.headers["set-cookie"].partition(";")[0]
        assert client.get("/devices", headers={"cookie": cookie}).status_code == 200


def test_a_forwarded_address_is_not_believed(store: str) -> None:
    with serving("--store", store, "--lan") as (_, said):
        port = address(said).rstrip("/").rpartition(":")[2]
        headers = {
            "host": f"192.168.7.2:{port}",
            "x-forwarded-for": "127.0.0.1",
            "forwarded": "for=127.0.0.1",
        }
        assert httpx.get(address(said) + "tanks", headers=headers, timeout=PATIENCE_S).status_code == 401


def test_a_busy_port_is_one_clear_message(store: str, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert run(["serve", "--store", store, "--port", str(port)]) == 2
    told = capsys.readouterr().err
    assert told == (
        f"dawnlevel: serve: Port {port} is taken by another program. "
        f"Choose another: dawnlevel serve --port {port + 1}\n"
    )


def test_no_demonstration_yet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DAWNLEVEL_DATA", str(tmp_path))
    assert run(["serve", "--demo"]) == 2


def test_a_store_that_cannot_be_used(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["serve", "--port", "0", "--store", str(tmp_path / "none" / "records.sqlite3")]) == 4
    assert "cannot be opened" in capsys.readouterr().err


def test_help_loads_no_server() -> None:
    code = (
        "import sys; from dawnlevel.cli.app import run; run(['serve', '--help']); "
        "sys.exit(any(name in sys.modules for name in ('uvicorn', 'fastapi', 'numpy')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, capture_output=True).returncode == 0


@pytest.mark.parametrize(
    ("host", "name"),
    [("localhost:8420", "localhost"), ("[::1]:8420", "::1"), ("A.LOCAL.", "a.local"), ("[", ""), ("", "")],
)
def test_names_in_host_headers(host: str, name: str) -> None:
    assert name_in(host) == name


def test_names_of_the_home_network() -> None:
    own = socket.gethostname().lower().partition(".")[0]
    assert is_known(f"{own}.local:8420", is_lan=True)
    assert is_known("10.1.2.3", is_lan=True)
    assert is_known("[fd00::1]:8420", is_lan=True)
    assert not is_known("8.8.8.8", is_lan=True)
    assert not is_known(f"{own}.example", is_lan=True)
    assert not is_known(f"{own}.local", is_lan=False)


def test_the_codes_picture_fits_a_terminal() -> None:
    lines = qr_text("http://192.168.100.200:65535/pair?code=ABCD-EFGH").splitlines()
    assert 10 < len(lines) <= 24
    assert max(map(len, lines)) < 120
