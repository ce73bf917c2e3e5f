"""The floor of the browser bench: the smallest page of Dash, served as the program serves its pages.

    python -m tests.bench.load.empty_dash

It listens on a free port of this computer and prints the address.
"""

from __future__ import annotations

import uvicorn
from dash import Dash, html
from fastapi import FastAPI

from dashboard.service.serving import listening_socket


def main() -> None:
    """Serve until ended."""
    server = FastAPI()
    app = Dash("empty", server=server, backend="fastapi")  # type: ignore[arg-type]  # any ASGI application will do
    app.layout = html.Div("There is nothing here.", id="nothing")
    sock = listening_socket("127.0.0.1", 0)
    sock.listen()
    print(f"http://127.0.0.1:{sock.getsockname()[1]}", flush=True)
    uvicorn.Server(uvicorn.Config(server, log_level="warning")).run(sockets=[sock])


if __name__ == "__main__":
    main()
