"""The dashboard in the network, in a real browser: the door, the session, its end, and what may not run."""

from __future__ import annotations

import os
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from dashboard import words_access
from dashboard.access import passphrase
from dashboard.access.sessions import IDLE_SECONDS

pytestmark = pytest.mark.browser
RIGHT = "four odd words here"
PATIENCE = 60_000
# The program with a clock that the test can set forward.
_START = """
import sys, time
from pathlib import Path
ahead, real = Path(sys.argv.pop(1)), time.time
time.time = lambda: real() + float(ahead.read_text())
from analytics.cli.main import main
main()
"""
_OPENS = """place => new Promise(done => {
  const line = new WebSocket(place);
  line.onopen = () => { line.close(); done("opened"); };
  line.onerror = () => done("refused");
})"""


@dataclass
class Lan:
    """The program at work.

    Attributes:
        url: where it answers.
        ahead: file of the seconds that its clock is set forward.
    """

    url: str
    ahead: Path


def _answers(url: str) -> bool:
    trusting = ssl._create_unverified_context()
    try:
        urllib.request.urlopen(f"{url}/sign-in", timeout=5, context=trusting).close()
    except OSError:
        return False
    return True


@pytest.fixture(params=["encrypted", "unencrypted"])
def lan(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Lan]:
    passphrase.keep(tmp_path / "data" / "penwise" / "access", RIGHT)
    plain = request.param == "unencrypted"
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    running = Lan(f"{'http' if plain else 'https'}://127.0.0.1:{port}", tmp_path / "ahead")
    running.ahead.write_text("0")
    words = ["serve", "--lan", *(["--unencrypted"] if plain else []), "--port", port, "--no-browser"]
    words = [running.ahead, *words, "--store", tmp_path / "own.duckdb"]
    job = subprocess.Popen(
        [sys.executable, "-c", _START, *(str(word) for word in words)],
        cwd=tmp_path,
        env={**os.environ, "HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data")},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        until = time.monotonic() + 120
        while not _answers(running.url):
            assert job.poll() is None, "the program ended before it answered"
            assert time.monotonic() < until, "the program did not answer"
            time.sleep(0.2)
        yield running
        job.send_signal(signal.SIGTERM)
        assert job.wait(30) == 0
    finally:
        if job.poll() is None:
            os.killpg(job.pid, signal.SIGKILL)
            job.wait()


@pytest.fixture
def phone(browser: Browser) -> Iterator[Callable[[], BrowserContext]]:
    """Opens browsers that know nothing of each other, as wide as a phone, and take the certificate."""
    opened = []

    def another() -> BrowserContext:
        opened.append(browser.new_context(viewport={"width": 390, "height": 844}, ignore_https_errors=True))
        return opened[-1]

    yield another
    for context in opened:
        context.close()


def _is_the_door(page: Page) -> None:
    expect(page.get_by_label(words_access.LABEL)).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_test_id("stApp")).to_have_count(0)


def _sign_in(page: Page, given: str) -> None:
    page.get_by_label(words_access.LABEL).fill(given)
    page.get_by_role("button", name=words_access.GO_IN).click()


def test_the_door_lets_in_by_the_passphrase_until_the_session_ends(lan, phone, settled) -> None:
    context = phone()
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.goto(f"{lan.url}/record-sheets")
    _is_the_door(page)
    plainly = page.get_by_text(words_access.NOT_ENCRYPTED)
    expect(plainly).to_have_count(1 if lan.url.startswith("http:") else 0)
    _sign_in(page, "four odd words there")
    expect(page.get_by_role("alert")).to_have_text(words_access.WRONG, timeout=PATIENCE)
    _is_the_door(page)

    _sign_in(page, RIGHT)
    settled(page)
    assert page.url == f"{lan.url}/record-sheets"
    expect(plainly).to_have_count(1 if lan.url.startswith("http:") else 0)
    stream = f"{lan.url.replace('http', 'ws', 1)}/_stcore/stream"
    assert page.evaluate(_OPENS, stream) == "opened"
    stranger = phone().new_page()
    stranger.goto(lan.url)
    _is_the_door(stranger)
    assert stranger.evaluate(_OPENS, stream) == "refused"
    assert not [said for said in complaints if "Content Security Policy" in said]

    lan.ahead.write_text(str(IDLE_SECONDS + 1))
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")  # the phone is taken up again
    _is_the_door(page)
    _sign_in(page, RIGHT)
    settled(page)
    assert page.url == f"{lan.url}/record-sheets"

    page.get_by_role("button", name=words_access.LEAVE).click()
    _is_the_door(page)
    page.go_back()
    _is_the_door(page)
    assert page.evaluate(_OPENS, stream) == "refused"


def test_no_script_that_was_written_into_a_page_runs(lan, phone, settled) -> None:
    page = phone().new_page()
    page.goto(lan.url)
    _sign_in(page, RIGHT)
    settled(page)
    ran = page.evaluate(
        """() => {
          const script = document.createElement("script");
          script.textContent = "window.ran = 'inline'";
          document.body.append(script);
          const handler = "<img src='x:' onerror='window.ran = 1'>";
          document.body.insertAdjacentHTML("beforeend", handler);
          return new Promise(done => setTimeout(() => done(window.ran || "nothing ran"), 500));
        }"""
    )
    assert ran == "nothing ran"
    called = page.evaluate("fetch('https://127.0.0.1:9/').then(() => 'called', error => String(error))")
    assert "Failed to fetch" in called
    assert page.evaluate("fetch('/signed-in').then(answer => answer.status)") == 200
