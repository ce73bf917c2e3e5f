"""A real MQTT broker (Mosquitto) on a port of this computer, for the tests of feeds."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from pathlib import Path

START_S = 20.0
PLACES = os.pathsep.join([os.environ.get("PATH", os.defpath), "/usr/sbin", "/usr/local/sbin"])


class Broker:
    """A broker that keeps its sessions in a folder; it may be stopped and started again on its port.

    Parameters
    ----------
    folder : Path
    people : mapping or None
        User -> password, for those who may connect; None: everyone may.
    """

    def __init__(self, folder: Path, people: dict[str, str] | None = None) -> None:
        self._folder = folder
        self._process: subprocess.Popen[bytes] | None = None
        self._program = program("mosquitto")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port: int = free.getsockname()[1]
        folder.mkdir(parents=True, exist_ok=True)
        settings = [
            f"listener {self.port} 127.0.0.1", "persistence true", f"persistence_location {folder}/",
            "autosave_interval 1", f"allow_anonymous {'false' if people else 'true'}",
        ]  # fmt: skip
        if os.geteuid() == 0:
            settings.append("user root")
        if people:
            passwords = folder / "passwords"
            passwords.touch()
            for user, password in people.items():
                subprocess.run([program("mosquitto_passwd"), "-b", passwords, user, password], check=True, capture_output=True)
            settings.append(f"password_file {passwords}")
        self._settings = folder / "mosquitto.conf"
        self._settings.write_text("\n".join(settings) + "\n", encoding="utf-8")

    def start(self) -> Broker:
        """Returns once it answers."""
        with (self._folder / "mosquitto.log").open("ab") as log:
            self._process = subprocess.Popen([self._program, "-c", self._settings], stdout=log, stderr=log)
        deadline = time.monotonic() + START_S
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return self
            except OSError:
                said = (self._folder / "mosquitto.log").read_text()
                assert self._process.poll() is None and time.monotonic() < deadline, f"the broker did not start: {said}"
                time.sleep(0.02)

    def stop(self) -> None:
        """End its process; its sessions stay in the folder."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(20)
            self._process = None


def program(name: str) -> str:
    """The path of a program of the package `mosquitto`."""
    found = shutil.which(name, path=PLACES)
    assert found, f"expected the program {name}, found none. Install the package mosquitto."
    return found
