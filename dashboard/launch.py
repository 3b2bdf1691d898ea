"""Starts the dashboard in this process, for this computer or its network, and stops it without a trace."""

from __future__ import annotations

import os
import socket
import sys
import threading
import time
import webbrowser
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analytics.errors import WrongUsage
from dashboard.look import theme_options

if TYPE_CHECKING:
    from dashboard.access.certificate import Papers

HOST = "127.0.0.1"
EVERYWHERE = "0.0.0.0"
"""All addresses of this computer: what it listens at when its network may look."""
FIRST_PORT = 8624
"""Where the dashboard listens unless told otherwise; when it is taken, one of the next nine."""
STORE = "PENWISE_STORE"
"""Name in the environment that tells the pages which store they show."""
EXAMPLE = "PENWISE_EXAMPLE"
"""Name in the environment of the file that holds the invented smallholding."""
NETWORK = "PENWISE_NETWORK"
"""Name in the environment that tells the pages who may look: nothing when only this computer may."""
ENCRYPTED, PLAIN = "encrypted", "plain"
_MOST_UPLOADED_MB = 50
_MOST_REQUEST_BYTES = (_MOST_UPLOADED_MB + 1) * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Shared:
    """How the dashboard is shown to the network.

    Attributes:
        folder: where the passphrase is kept.
        hosts: names and addresses under which this computer answers.
        papers: its certificate; None when the connection is not encrypted.
    """

    folder: Path
    hosts: tuple[str, ...]
    papers: Papers | None


def address(port: int, host: str = HOST, *, encrypted: bool = False) -> str:
    """What to type into the browser."""
    return f"{'https' if encrypted else 'http'}://{host}:{port}"


def choose_port(wanted: int | None, host: str = HOST) -> int:
    """The port asked for, or the first free one, at the address to listen at.

    Raises:
        WrongUsage: the port asked for is taken, or all ten usual ones are.
    """
    tried = range(FIRST_PORT, FIRST_PORT + 10) if wanted is None else (wanted,)
    for port in tried:
        if _is_free(host, port):
            return port
    names = str(tried[0]) if wanted is not None else f"{tried[0]} to {tried[-1]}"
    raise WrongUsage(
        f"Port {names} on this computer",
        "Another program is listening there",
        f"Close it, or give another port, such as --port {tried[-1] + 10}",
    )


def serve(store: Path, example: Path, port: int, *, open_browser: bool, shared: Shared | None = None) -> None:
    """Shows the store until Ctrl-C or a request to end; returns then.

    Args:
        store: the store to show; it need not exist yet.
        example: where the invented smallholding is kept, or will be.
        port: a free port.
        open_browser: whether to open the page in the user's browser.
        shared: how it is shown to the network; None for this computer only.
    """
    import streamlit as st
    from starlette.middleware import Middleware
    from streamlit.runtime.pages_manager import PagesManager

    from dashboard.access.gate import Door, Gate

    os.environ[STORE] = str(store.resolve())
    os.environ[EXAMPLE] = str(example.resolve())
    os.environ[NETWORK] = "" if shared is None else ENCRYPTED if shared.papers else PLAIN
    os.environ["FORWARDED_ALLOW_IPS"] = ""  # no proxy: who asks is who connected
    # The folder `pages` holds our own modules; it is not to be read as a list of scripts.
    PagesManager.uses_pages_directory = False
    if open_browser and _has_screen():
        where = address(port, encrypted=bool(shared and shared.papers))
        threading.Thread(target=_open_when_ready, args=(port, where), daemon=True).start()
    gate = Middleware(
        Gate,
        hosts=_hosts(shared),
        door=Door(shared.folder, encrypted=shared.papers is not None) if shared else None,
        most_bytes=_MOST_REQUEST_BYTES,
    )
    app = st.App(Path(__file__).with_name("app.py"), middleware=[gate])
    app.run(config=_options(port, shared))


def _hosts(shared: Shared | None) -> tuple[str, ...]:
    return shared.hosts if shared else (HOST, "localhost")


def _is_free(host: str, port: int) -> bool:
    with socket.socket() as probe:
        if os.name != "nt":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True


def _options(port: int, shared: Shared | None) -> dict[str, object]:
    """Options of Streamlit."""
    papers = shared.papers if shared else None
    options: dict[str, object] = {
        "global.developmentMode": False,
        "logger.level": "error",
        "logger.hideWelcomeMessage": True,
        "client.showErrorDetails": "none",
        "client.showErrorLinks": False,
        "client.toolbarMode": "minimal",
        "runner.magicEnabled": False,
        "server.address": EVERYWHERE if shared else HOST,
        "server.port": port,
        "server.headless": True,
        "server.allowedHosts": list(_hosts(shared)),
        "server.enableCORS": True,
        "server.corsAllowedOrigins": [],
        "server.enableXsrfProtection": True,
        "server.xsrfCookieSameSite": "strict",
        "server.enableStaticServing": False,
        "server.enableAgentApi": False,
        "server.fileWatcherType": "none",
        "server.maxUploadSize": _MOST_UPLOADED_MB,
        "server.maxMessageSize": _MOST_UPLOADED_MB,
        "server.sslCertFile": str(papers.certificate) if papers else None,
        "server.sslKeyFile": str(papers.key) if papers else None,
        "browser.serverAddress": HOST,
        "browser.gatherUsageStats": False,
    }
    return options | {name.replace("_", "."): value for name, value in theme_options().items()}


def _has_screen() -> bool:
    """Whether opening a browser can work; without a screen a text browser would take the terminal."""
    if sys.platform in ("win32", "darwin"):
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"))


def _open_when_ready(port: int, where: str, patience: float = 30.0) -> None:
    until = time.monotonic() + patience
    while time.monotonic() < until:
        try:
            socket.create_connection((HOST, port), timeout=1).close()
        except OSError:
            time.sleep(0.2)
            continue
        webbrowser.open(where)
        return
