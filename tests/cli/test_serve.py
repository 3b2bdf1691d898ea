"""`penwise serve` and `penwise demo`: what they refuse, and that they leave nothing behind."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

import dashboard.launch as launch
import seed_demo.build as build
from analytics.cli import serve as commands
from analytics.cli.main import penwise
from analytics.errors import StoreBusy, WrongUsage
from analytics.store import connection

_START = "import sys; from analytics.cli.main import main; main()"


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def _running(store: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """`penwise serve` in a process group of its own, once it answers."""
    command = [sys.executable, "-c", _START, "serve", "--store", store, "--port", port, "--no-browser"]
    job = subprocess.Popen(
        [str(part) for part in command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        cwd=store.parent,
    )
    try:
        _wait_until_it_answers(job, port)
        yield job
    finally:
        if job.poll() is None:
            os.killpg(job.pid, signal.SIGKILL)
        job.communicate()


def _wait_until_it_answers(job: subprocess.Popen[str], port: int) -> None:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        assert job.poll() is None, job.communicate()
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2) as answer:
                assert answer.status == 200
                return
        except OSError:
            time.sleep(0.1)
    pytest.fail("the dashboard did not answer")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["ctrl-c", "terminate"])
def test_it_stops_cleanly_and_leaves_nothing(tmp_path: Path, number: signal.Signals) -> None:
    port = _free_port()
    with _running(tmp_path / "own.duckdb", port) as job:
        asked = time.monotonic()
        job.send_signal(number)
        out, err = job.communicate(timeout=20)
        assert time.monotonic() - asked < 10
        assert job.returncode == 0
    assert f"http://127.0.0.1:{port}" in out
    assert "Traceback" not in out + err
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), timeout=2)
    with pytest.raises(ProcessLookupError):
        os.killpg(job.pid, 0)
    assert list(tmp_path.iterdir()) == []


@pytest.fixture(scope="module")
def answering(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    port = _free_port()
    with _running(tmp_path_factory.mktemp("serve") / "own.duckdb", port):
        yield port


@pytest.mark.parametrize("other", ["127.0.0.2", "::1"])
def test_it_listens_at_one_loopback_address_only(answering: int, other: str) -> None:
    with pytest.raises(OSError, match=r"refused|assign|unreachable|not supported"):
        socket.create_connection((other, answering), timeout=2)


@pytest.mark.parametrize(("host", "status"), [("127.0.0.1", 101), ("localhost", 101), ("evil.example", 403)])
def test_a_foreign_name_gets_no_connection(answering: int, host: str, status: int) -> None:
    with socket.create_connection(("127.0.0.1", answering), timeout=5) as line:
        line.sendall(
            f"GET /_stcore/stream HTTP/1.1\r\nHost: {host}:{answering}\r\n"
            f"Origin: http://{host}:{answering}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
            "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n".encode()
        )
        assert line.recv(200).split()[1] == str(status).encode()


def test_a_taken_port_is_refused_in_words() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        with pytest.raises(
            WrongUsage, match=f"Port {taken}.*Another program.*--port {taken + 10}"
        ) as refused:
            launch.choose_port(taken)
    assert refused.value.exit_code == 2


def test_without_a_wish_the_next_free_port_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    first = _free_port()
    monkeypatch.setattr(launch, "FIRST_PORT", first)
    with socket.socket() as other:
        other.bind(("127.0.0.1", first))
        other.listen()
        assert first < launch.choose_port(None) < first + 10


@pytest.mark.parametrize("port", ["80", "70000", "x"])
def test_a_port_that_cannot_be_is_wrong_usage(port: str) -> None:
    assert CliRunner().invoke(commands.serve, ["--port", port]).exit_code == 2


class Shown:
    """What the dashboard was started with, in place of starting it."""

    def __init__(self) -> None:
        self.given: list[tuple[Path, Path, bool]] = []
        self.built: list[tuple[Path, int | None]] = []

    def serve(
        self, store: Path, example: Path, port: int, *, open_browser: bool, shared: launch.Shared | None
    ) -> None:
        assert shared is None
        self.given.append((store, example, open_browser))

    def build(self, store: Path, seed: int | None, progress: object) -> None:
        self.built.append((store, seed))
        store.parent.mkdir(parents=True, exist_ok=True)
        store.write_text("demo", encoding="utf-8")


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Shown:
    record = Shown()
    monkeypatch.setattr(launch, "serve", record.serve)
    monkeypatch.setattr(build, "build_demo", record.build)
    monkeypatch.setattr(build, "is_demo", lambda store: store.read_text(encoding="utf-8") == "demo")
    monkeypatch.setattr(commands, "default_store", lambda: tmp_path / "penwise" / "penwise.duckdb")
    monkeypatch.setattr(commands, "_leave_when_told", lambda: None)
    return record


def _demo(*words: str) -> None:
    result = CliRunner().invoke(commands.demo, words, catch_exceptions=False)
    assert result.exit_code == 0, result.output


def test_serve_passes_the_users_store_and_the_place_of_the_example(shown: Shown, tmp_path: Path) -> None:
    own = tmp_path / "mine.duckdb"
    result = CliRunner().invoke(commands.serve, ["--store", str(own), "--no-browser"], catch_exceptions=False)
    assert result.exit_code == 0
    assert shown.given == [(own, tmp_path / "penwise" / "demo.duckdb", False)]


@pytest.mark.parametrize("kind", ["text", "folder"])
def test_a_file_that_is_no_store_is_refused_before_anything_starts(
    shown: Shown, tmp_path: Path, kind: str
) -> None:
    other = tmp_path / "notes.txt"
    other.mkdir() if kind == "folder" else other.write_text("Dear neighbour", encoding="utf-8")
    result = CliRunner().invoke(penwise, ["serve", "--store", str(other), "--no-browser"])
    assert (result.exit_code, result.stdout) == (4, "")
    assert result.stderr.startswith("penwise: notes.txt is not a store of penwise. A store is a file")
    assert len(result.stderr.splitlines()) == 1
    assert shown.given == []


def test_a_store_in_use_is_shown_all_the_same(
    shown: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(_: Path) -> int:
        raise StoreBusy("mine.duckdb is in use", "One program writes at a time")

    monkeypatch.setattr(connection, "change_count", busy)
    result = CliRunner().invoke(commands.serve, ["--store", str(tmp_path / "mine.duckdb")])
    assert result.exit_code == 0
    assert len(shown.given) == 1


def test_the_demo_is_built_once_under_its_own_name(shown: Shown, tmp_path: Path) -> None:
    place = tmp_path / "penwise" / "demo.duckdb"
    _demo("--no-browser")
    _demo()
    assert shown.built == [(place, None)]
    assert shown.given == [(place, place, False), (place, place, True)]


def test_another_seed_is_another_file(shown: Shown, tmp_path: Path) -> None:
    _demo()
    _demo("--seed", "7")
    folder = tmp_path / "penwise"
    assert shown.built == [(folder / "demo.duckdb", None), (folder / "demo-7.duckdb", 7)]


def test_the_demo_ignores_the_users_store(
    shown: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "mine.duckdb"
    own.write_text("records of years", encoding="utf-8")
    monkeypatch.setenv("PENWISE_STORE", str(own))
    _demo()
    assert shown.built[0][0] == tmp_path / "penwise" / "demo.duckdb"
    assert own.read_text(encoding="utf-8") == "records of years"


def test_a_given_file_is_rebuilt_only_for_a_seed(shown: Shown, tmp_path: Path) -> None:
    place = tmp_path / "elsewhere.duckdb"
    _demo("--store", str(place))
    _demo("--store", str(place))
    _demo("--store", str(place), "--seed", "3")
    assert shown.built == [(place, None), (place, 3)]
