"""`penwise serve --lan` as it runs: all places of the real dashboard behind the gate, and what it says."""

from __future__ import annotations

import hashlib
import http.client
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner

import dashboard.launch as launch
from analytics.cli import access
from analytics.cli import serve as commands
from analytics.errors import WrongUsage
from dashboard.access import certificate, passphrase

RIGHT = "four odd words here"
_START = "from analytics.cli.main import main; main()"
PLACES = ("/_stcore/health", "/_stcore/host-config", "/_stcore/metrics", "/_stcore/agent/openapi.json",
          "/media/a.csv", "/static/", "/static/js/", "/component/", "/favicon.ico", "/app/static/",
          "/../../etc/passwd")  # fmt: skip
UPGRADE = {
    "Connection": "Upgrade",
    "Upgrade": "websocket",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
}


@dataclass
class Answer:
    """What the program answered."""

    status: int
    headers: http.client.HTTPMessage
    text: str


@dataclass
class Program:
    """The program at work, and what its window says."""

    port: int
    folder: Path
    window: Path

    def trusting(self) -> ssl.SSLContext:
        return ssl.create_default_context(cafile=str(self.folder / "certificate.pem"))

    def ask(self, path: str, method: str = "GET", body: str | None = None, **headers: str) -> Answer:
        line = http.client.HTTPSConnection("127.0.0.1", self.port, timeout=20, context=self.trusting())
        given = {name.replace("_", "-"): value for name, value in headers.items()}
        line.request(method, path, body, given)
        answer = line.getresponse()
        told = Answer(
            answer.status,
            answer.headers,
            "" if answer.status == 101 else answer.read().decode("utf-8", "replace"),
        )
        line.close()
        return told

    def sign_in(self, given: str, **headers: str) -> Answer:
        return self.ask("/sign-in", "POST", urlencode({"passphrase": given}), **headers)


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("lan")
    folder, window = home / "data" / "penwise" / "access", home / "window.txt"
    passphrase.keep(folder, RIGHT)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = ["serve", "--lan", "--name", "Shed.lan", "--port", str(port), "--no-browser"]
    with window.open("w", encoding="utf-8") as out:
        job = subprocess.Popen(
            [sys.executable, "-u", "-c", _START, *words, "--store", str(home / "own.duckdb")],
            cwd=home,
            env={**os.environ, "HOME": str(home), "XDG_DATA_HOME": str(home / "data")},
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    running = Program(port, folder, window)
    try:
        _wait(job, running)
        yield running
        job.send_signal(signal.SIGINT)
        assert job.wait(20) == 0
    finally:
        if job.poll() is None:
            os.killpg(job.pid, signal.SIGKILL)
            job.wait()


@pytest.fixture(scope="module")
def cookie(program: Program) -> str:
    """The cookie of one session."""
    answer = program.sign_in(RIGHT)
    assert answer.status == 303
    return answer.headers["Set-Cookie"].split(";")[0]


def _wait(job: subprocess.Popen[bytes], program: Program) -> None:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        assert job.poll() is None, program.window.read_text()
        try:
            assert program.ask("/sign-in").status == 200
            return
        except OSError:
            time.sleep(0.1)
    pytest.fail("the program did not answer")


def test_the_connection_is_encrypted_by_the_certificate_whose_fingerprint_is_printed(program) -> None:
    said = program.window.read_text(encoding="utf-8")
    plain = socket.create_connection(("127.0.0.1", program.port), timeout=20)
    with program.trusting().wrap_socket(plain, server_hostname="shed.lan") as line:
        shown = line.getpeercert(binary_form=True)
        assert line.version() in ("TLSv1.2", "TLSv1.3")
    assert shown
    assert hashlib.sha256(shown).digest().hex(":").upper() in said
    assert f"https://shed.lan:{program.port}" in said
    bare = http.client.HTTPConnection("127.0.0.1", program.port, timeout=20)
    with pytest.raises((http.client.HTTPException, OSError)):
        bare.request("GET", "/sign-in") or bare.getresponse()
    bare.close()


@pytest.mark.parametrize("path", PLACES)
def test_every_place_is_behind_the_gate_and_no_folder_is_listed(program, cookie, path: str) -> None:
    assert program.ask(path).status == 401
    answer = program.ask(path, Cookie=cookie)
    assert answer.status in (200, 301, 400, 404)
    assert not re.search(r"Index of|Directory listing|href=.\.\./|root:x", answer.text)


def test_the_live_connection_opens_with_a_session_only(program, cookie) -> None:
    origin = f"https://127.0.0.1:{program.port}"
    stream = "/_stcore/stream"
    assert program.ask(stream, **UPGRADE, Origin=origin).status == 403
    assert program.ask(stream, **UPGRADE, Origin=origin, Cookie=cookie).status == 101
    other = "https://127.0.0.1:9"
    assert program.ask(stream, **UPGRADE, Origin=other, Cookie=cookie).status == 403


def test_an_upload_needs_the_sessions_own_token(program, cookie) -> None:
    place = "/_stcore/upload_file/some-session/some-file"
    assert program.ask(place, "PUT", "x").status == 401
    assert program.ask(place, "PUT", "x", Cookie=cookie).status == 403


def test_an_address_made_up_in_a_header_does_not_count(program) -> None:
    for made_up in ("192.0.2.1", "192.0.2.2"):
        assert program.sign_in("wrong", X_Forwarded_For=made_up).status == 403
    said = program.window.read_text(encoding="utf-8").split("Ctrl-C ends it.")[1]
    assert said.count("Wrong passphrase from 127.0.0.1") == 2
    assert "192.0.2." not in said
    assert program.sign_in(RIGHT).status == 303


class Started:
    """What the dashboard was started with, in place of starting it."""

    shared: launch.Shared | None = None
    times = 0

    def serve(
        self,
        store: Path,
        example: Path,
        port: int,
        *,
        open_browser: bool,
        shared: launch.Shared | None = None,
    ) -> None:
        self.shared, self.times = shared, self.times + 1


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Started:
    record = Started()
    monkeypatch.setattr(launch, "serve", record.serve)
    monkeypatch.setattr(access, "default_store", lambda: tmp_path / "penwise.duckdb")
    monkeypatch.setattr(commands, "_leave_when_told", lambda: None)
    monkeypatch.setattr(certificate, "own_addresses", lambda: ("192.0.2.20",))
    monkeypatch.setattr(certificate, "own_names", lambda: ("barn",))
    return record


def _serve(tmp_path: Path, *words: str) -> str:
    given = ["--store", str(tmp_path / "own.duckdb"), "--no-browser", *words]
    result = CliRunner().invoke(commands.serve, given, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def test_without_a_passphrase_the_network_sees_nothing(started, tmp_path) -> None:
    for command in (commands.serve, commands.demo):
        with pytest.raises(WrongUsage, match="passphrase, and none is set"):
            CliRunner().invoke(command, ["--lan", "--no-browser"], catch_exceptions=False)
    assert started.times == 0
    assert list(tmp_path.iterdir()) == []


def test_what_belongs_to_lan_is_refused_without_it(started) -> None:
    with pytest.raises(WrongUsage, match="belong to --lan"):
        CliRunner().invoke(commands.serve, ["--unencrypted"], catch_exceptions=False)
    assert started.times == 0


def test_the_window_says_where_and_what_to_compare(started, tmp_path, kept_hash) -> None:
    folder = tmp_path / "access"
    folder.mkdir()
    (folder / "passphrase").write_text(kept_hash)
    said = _serve(tmp_path, "--lan", "--name", "Shed.lan")
    assert started.shared
    assert started.shared.papers
    assert started.shared.hosts == ("192.0.2.20", "barn", "shed.lan", "127.0.0.1", "localhost")
    assert re.findall(r"https://([^:\s]+):\d+", said) == list(started.shared.hosts)
    assert started.shared.papers.fingerprint in said
    assert "new certificate" in said
    assert "new certificate" not in _serve(tmp_path, "--lan", "--name", "Shed.lan")


def test_unencrypted_is_the_users_own_choice_and_said(started, tmp_path, kept_hash) -> None:
    folder = tmp_path / "access"
    folder.mkdir()
    (folder / "passphrase").write_text(kept_hash)
    said = _serve(tmp_path, "--lan", "--unencrypted")
    assert started.shared
    assert started.shared.papers is None
    assert "Not encrypted: others in the network can read the passphrase" in said
    assert "https" not in said


def test_options_hold_whatever_a_settings_file_says() -> None:
    for shared in (None, launch.Shared(Path("x"), ("barn",), None)):
        options = launch._options(8624, shared)
        assert options["server.address"] == ("0.0.0.0" if shared else "127.0.0.1")
        assert options["server.allowedHosts"] == (["barn"] if shared else ["127.0.0.1", "localhost"])
        assert options["server.enableCORS"] is options["server.enableXsrfProtection"] is True
        assert options["server.enableStaticServing"] is options["server.enableAgentApi"] is False
        assert options["browser.gatherUsageStats"] is False
        assert options["server.maxUploadSize"] == 50
        assert options["client.showErrorDetails"] == "none"
