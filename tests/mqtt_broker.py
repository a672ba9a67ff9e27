"""A throw-away MQTT broker on loopback for the tests: mosquitto, as Debian packages it."""

import shutil
import socket
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path

import pytest


class BrokerServer:
    """A broker that can be stopped and started again; its memory outlives it."""

    def __init__(self, folder: Path) -> None:
        found = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin")
        if found is None:
            pytest.skip("no mosquitto is installed here (Debian: apt-get install mosquitto)")
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = int(probe.getsockname()[1])
        self._settings = folder / "mosquitto.conf"
        self._settings.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\npersistence true\n"
            f"persistence_location {folder}/\nuser root\n"
        )
        self._command = [found, "-c", str(self._settings)]
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> None:
        self._process = subprocess.Popen(self._command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        for _ in range(200):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        raise AssertionError

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(timeout=30)
            self._process = None

    def publish(self, messages: Sequence[tuple[str, str]], *, retain: bool = False) -> None:
        """Send messages (topic, payload) and wait until the broker has them."""
        from paho.mqtt import publish  # noqa: PLC0415 - only where a broker is

        sent = [{"topic": topic, "payload": text, "qos": 1, "retain": retain} for topic, text in messages]
        publish.multiple(sent, hostname="127.0.0.1", port=self.port)
