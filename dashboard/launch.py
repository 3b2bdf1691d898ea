"""Starts the dashboard in this process, on this computer only, and stops it without a trace."""

from __future__ import annotations

import os
import socket
import sys
import threading
import time
import webbrowser
from pathlib import Path

from analytics.errors import WrongUsage
from dashboard.look import theme_options

HOST = "127.0.0.1"
FIRST_PORT = 8624
"""Where the dashboard listens unless told otherwise; when it is taken, one of the next nine."""
STORE = "PENWISE_STORE"
"""Name in the environment that tells the pages which store they show."""
EXAMPLE = "PENWISE_EXAMPLE"
"""Name in the environment of the file that holds the invented smallholding."""
_MOST_UPLOADED_MB = 50


def address(port: int) -> str:
    """What to type into the browser."""
    return f"http://{HOST}:{port}"


def choose_port(wanted: int | None) -> int:
    """The port asked for, or the first free one.

    Raises:
        WrongUsage: the port asked for is taken, or all ten usual ones are.
    """
    tried = range(FIRST_PORT, FIRST_PORT + 10) if wanted is None else (wanted,)
    for port in tried:
        if _is_free(port):
            return port
    names = str(tried[0]) if wanted is not None else f"{tried[0]} to {tried[-1]}"
    raise WrongUsage(
        f"Port {names} on this computer",
        "Another program is listening there",
        f"Close it, or give another port, such as --port {tried[-1] + 10}",
    )


def serve(store: Path, example: Path, port: int, *, open_browser: bool) -> None:
    """Shows the store until Ctrl-C or a request to end; returns then.

    Args:
        store: the store to show; it need not exist yet.
        example: where the invented smallholding is kept, or will be.
        port: a free port.
        open_browser: whether to open the page in the user's browser.
    """
    from streamlit.runtime.pages_manager import PagesManager
    from streamlit.web import bootstrap

    os.environ[STORE] = str(store.resolve())
    os.environ[EXAMPLE] = str(example.resolve())
    options = _options(port)
    bootstrap.load_config_options(options)
    # The folder `pages` holds our own modules; it is not to be read as a list of scripts.
    PagesManager.uses_pages_directory = False
    if open_browser and _has_screen():
        threading.Thread(target=_open_when_ready, args=(port,), daemon=True).start()
    bootstrap.run(str(Path(__file__).with_name("app.py")), False, [], options)


def _is_free(port: int) -> bool:
    with socket.socket() as probe:
        if os.name != "nt":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError:
            return False
    return True


def _options(port: int) -> dict[str, object]:
    """Options of Streamlit, dots written as underscores."""
    return {
        "global_developmentMode": False,
        "logger_level": "error",
        "logger_hideWelcomeMessage": True,
        "client_showErrorDetails": "none",
        "client_showErrorLinks": False,
        "client_toolbarMode": "minimal",
        "runner_magicEnabled": False,
        "server_address": HOST,
        "server_port": port,
        "server_headless": True,
        "server_allowedHosts": [HOST, "localhost"],
        "server_fileWatcherType": "none",
        "server_maxUploadSize": _MOST_UPLOADED_MB,
        "browser_serverAddress": HOST,
        "browser_gatherUsageStats": False,
        **theme_options(),
    }


def _has_screen() -> bool:
    """Whether opening a browser can work; without a screen a text browser would take the terminal."""
    if sys.platform in ("win32", "darwin"):
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"))


def _open_when_ready(port: int, patience: float = 30.0) -> None:
    until = time.monotonic() + patience
    while time.monotonic() < until:
        try:
            socket.create_connection((HOST, port), timeout=1).close()
        except OSError:
            time.sleep(0.2)
            continue
        webbrowser.open(address(port))
        return
