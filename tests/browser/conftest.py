"""A real browser, and the program running as a breeder would start it."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

ROOT = Path(__file__).parents[2]
ARTEFACTS = ROOT / ".artefacts"
CHROMIUM = "/usr/bin/chromium"
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
_START = "from analytics.cli.main import main; main()"


@dataclass
class Running:
    """The program at work.

    Attributes:
        url: where it answers.
        job: its process.
    """

    url: str
    job: subprocess.Popen[bytes]


@contextmanager
def running(command: str, *options: object, home: Path) -> Iterator[Running]:
    """`penwise COMMAND` on a free port, in a process group of its own, once it answers."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [command, *options, "--port", port, "--no-browser"]
    job = subprocess.Popen(
        [sys.executable, "-c", _START, *(str(word) for word in words)],
        cwd=home,
        env={**os.environ, "HOME": str(home), "XDG_DATA_HOME": str(home / "data")},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    url = f"http://127.0.0.1:{port}"
    try:
        _wait(job, url)
        yield Running(url, job)
    finally:
        if job.poll() is None:
            os.killpg(job.pid, signal.SIGKILL)
        job.wait()


def _wait(job: subprocess.Popen[bytes], url: str) -> None:
    until = time.monotonic() + 120
    while time.monotonic() < until:
        assert job.poll() is None, "the program ended before it answered"
        try:
            urllib.request.urlopen(f"{url}/_stcore/health", timeout=2).close()
        except OSError:
            time.sleep(0.2)
        else:
            return
    pytest.fail("the program did not answer")


@dataclass
class Watched:
    """A page whose requests and complaints are kept.

    Attributes:
        page: the page.
        hosts: every host that anything was asked of.
        complaints: errors on the page's console, and scripts that failed.
    """

    page: Page
    hosts: set[str] = field(default_factory=set)
    complaints: list[str] = field(default_factory=list)

    def assert_calls_nobody(self) -> None:
        assert self.hosts == {"127.0.0.1"}


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        yield chromium
        chromium.close()


@pytest.fixture
def watch(browser: Browser) -> Iterator[Callable[..., Watched]]:
    """Opens pages of a width and a light; each is closed at the end."""
    opened = []

    def open_page(width: int = 1280, scheme: str = "light") -> Watched:
        context = browser.new_context(
            viewport={"width": width, "height": 900}, color_scheme="dark" if scheme == "dark" else "light"
        )
        opened.append(context)
        watched = Watched(context.new_page())
        watched.page.on("request", lambda request: _note(watched.hosts, request.url))
        watched.page.on("websocket", lambda line: _note(watched.hosts, line.url))
        watched.page.on("pageerror", lambda error: watched.complaints.append(str(error)))
        watched.page.on("console", lambda said: _note_error(watched.complaints, said))
        return watched

    yield open_page
    for context in opened:
        context.close()


def _note_error(complaints: list[str], said: ConsoleMessage) -> None:
    """Keeps an error of the console, except that Streamlit looks for its root and misses once."""
    place = said.location.get("url", "")
    if said.type == "error" and not re.search(r"/[\w-]+/_stcore/", place):
        complaints.append(f"{said.text} {place}")


def _note(hosts: set[str], url: str) -> None:
    parts = urlsplit(url)
    if parts.scheme not in ("data", "blob"):
        hosts.add(parts.hostname or url)


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    home = tmp_path_factory.mktemp("demo")
    with running("demo", "--store", home / "demo.duckdb", home=home) as program:
        yield program


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Running]:
    """The dashboard on a store that does not exist yet."""
    with running("serve", "--store", tmp_path / "own.duckdb", home=tmp_path) as program:
        yield program


@pytest.fixture(scope="session")
def settled() -> Callable[[Page], None]:
    """Waits until the page has drawn all and no run is under way: what is typed before may be lost."""

    def wait(page: Page) -> None:
        expect(page.get_by_role("heading", level=1)).to_be_visible(timeout=60_000)
        quiet = page.locator('[data-testid="stApp"][data-test-script-state="notRunning"]')
        expect(quiet).to_have_count(1, timeout=150_000)
        page.wait_for_timeout(300)
        expect(quiet).to_have_count(1, timeout=150_000)

    return wait


@pytest.fixture(scope="session")
def keep_picture() -> Callable[[Page, str], None]:
    """Keeps a picture of the whole page in .artefacts."""

    def keep(page: Page, name: str) -> None:
        ARTEFACTS.mkdir(exist_ok=True)
        size = page.viewport_size
        assert size
        whole = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        page.set_viewport_size({"width": size["width"], "height": min(int(whole) + 10, 8000)})
        page.wait_for_timeout(600)
        page.screenshot(path=ARTEFACTS / f"{name}.png")
        page.set_viewport_size(size)

    return keep
