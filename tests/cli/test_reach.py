"""Whom a command serves, and how: TLS, as a person starts it."""

from __future__ import annotations

import ssl
from pathlib import Path

import httpx
import pytest
from websockets.sync.client import connect

from tests.certificates import made_certificate
from tests.command import assert_bad_input, tetherline
from tests.serving import Start


@pytest.mark.parametrize("command", ["serve", "replay", "demo"])
def test_with_a_certificate_and_its_key_the_board_is_served_by_https(start: Start, sortie: Path, command: str):
    """The address says so; state, live push, and for a sign-in a cookie that never goes over plain HTTP."""
    certificate, key = made_certificate(sortie)
    what = {"serve": [sortie / "plan.toml", "--log-key", "k1"], "replay": [sortie / "run-1.jsonl", "--log-key", "k1"], "demo": []}
    tls = ("--tls-cert", certificate, "--tls-key", key)
    _, url = start(command, *what[command], "--port", "0", "--no-browser", *tls)
    assert url.startswith("https://127.0.0.1:")
    trust = ssl.create_default_context(cafile=str(certificate))
    with httpx.Client(base_url=url, verify=trust, trust_env=False, timeout=30) as client:
        assert client.get("/api/plan").status_code == 200
        signed_in = client.post("/sign-in", data={"key": "k1"}, headers={"Origin": url})
    assert signed_in.status_code == (403 if command == "demo" else 303)
    assert command == "demo" or "; Secure" in signed_in.headers["set-cookie"]
    with connect(url.replace("https", "wss") + "/api/live", ssl=trust) as socket:
        assert "version" in socket.recv(timeout=10)


def test_send_trusts_the_certificate_that_it_is_told_to(start: Start, sortie: Path):
    """Else nothing is sent, at once, and it is said what to do."""
    certificate, key = made_certificate(sortie)
    _, url = start("serve", sortie / "plan.toml", "--port", "0", "--tls-cert", certificate, "--tls-key", key)
    note = ("send", "--to", url, "--event", '{"kind": "note", "text": "x"}')
    assert_bad_input(tetherline(*note), "a certificate that this computer trusts", "SSL_CERT_FILE")
    assert tetherline(*note, environment={"SSL_CERT_FILE": str(certificate)}).returncode == 0
