"""The gate, asked without a network: one request at a time, and a live connection held by hand."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from dashboard.access import passphrase
from dashboard.access.gate import Door, Gate
from dashboard.access.sessions import Sessions
from dashboard.access.tries import Tries

RIGHT = "four odd words here"
HOST = "barn.local:8624"
ORIGIN = f"https://{HOST}"
MOST_BYTES = 1000


@dataclass
class Clock:
    """A clock that is set by hand."""

    now: float = 1_000_000.0

    def __call__(self) -> float:
        return self.now


@dataclass
class Answer:
    """What came back: status, headers by lower-case name, text."""

    status: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    text: str = ""

    @property
    def is_from_behind(self) -> bool:
        return self.status == 200 and self.text == "behind"


async def behind(scope: Mapping[str, Any], receive: Callable[[], Awaitable[Any]], send: Any) -> None:
    """What lies behind the gate: answers every request, and returns what a live connection says."""
    if scope["type"] == "http":
        await send({"type": "http.response.start", "status": 200, "headers": [(b"cache-control", b"public")]})
        await send({"type": "http.response.body", "body": b"behind"})
        return
    while True:
        message = await receive()
        if message["type"] == "websocket.connect":
            await send({"type": "websocket.accept"})
        elif message["type"] == "websocket.receive":
            await send({"type": "websocket.send", "bytes": message["bytes"]})
        else:
            return


@dataclass
class Gated:
    """A gate, and the door it keeps."""

    gate: Gate
    door: Door | None
    clock: Clock
    cookie: str = ""

    def scope(self, kind: str, path: str, headers: Mapping[str, str], client: str) -> dict[str, Any]:
        given = {"host": HOST, **({"cookie": self.cookie} if self.cookie else {}), **headers}
        return {
            "type": kind,
            "path": path.split("?")[0],
            "query_string": path.partition("?")[2].encode(),
            "scheme": "wss" if kind == "websocket" else "https",
            "client": (client, 40000),
            "server": ("0.0.0.0", 8624),
            "headers": [(name.encode(), value.encode()) for name, value in given.items() if value],
        }

    async def ask_async(
        self,
        path: str = "/",
        method: str = "GET",
        *,
        body: bytes = b"",
        headers: Mapping[str, str] | None = None,
        client: str = "192.0.2.7",
    ) -> Answer:
        answer = Answer()
        lengths = {"content-length": str(len(body))} if body else {}
        scope = self.scope("http", path, {**lengths, **(headers or {})}, client) | {"method": method}

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                answer.status = message["status"]
                answer.headers = {name.decode(): value.decode() for name, value in message["headers"]}
            else:
                answer.text += message.get("body", b"").decode()

        await self.gate(scope, receive, send)
        return answer

    def ask(self, path: str = "/", method: str = "GET", **more: Any) -> Answer:
        return asyncio.run(self.ask_async(path, method, **more))

    def sign_in(self, given: str = RIGHT, *, onward: str = "/", **more: Any) -> Answer:
        """Fills in the form of the door; a cookie that comes back is sent from then on."""
        body = urlencode({"passphrase": given, "next": onward}).encode()
        answer = self.ask("/sign-in", "POST", body=body, **more)
        found = re.match(r"([\w-]+=[\w-]+);", answer.headers.get("set-cookie", ""))
        self.cookie = found[1] if found else self.cookie
        return answer


@pytest.fixture(scope="session")
def kept_hash(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The hash of the right passphrase, made once: it is slow on purpose."""
    folder = tmp_path_factory.mktemp("hash")
    passphrase.keep(folder, RIGHT)
    kept = passphrase.stored(folder)
    assert kept
    return kept


@pytest.fixture
def shown(tmp_path: Path, kept_hash: str) -> Gated:
    """A dashboard that the network may look at, by the passphrase."""
    (tmp_path / "passphrase").write_text(kept_hash, encoding="ascii")
    clock = Clock()
    door = Door(tmp_path, encrypted=True, sessions=Sessions(clock), tries=Tries(clock))
    return Gated(Gate(behind, ["barn.local", "192.0.2.20"], door, MOST_BYTES), door, clock)


@pytest.fixture
def quick(shown: Gated, monkeypatch: pytest.MonkeyPatch) -> Gated:
    """The same, where looking at a passphrase takes no time."""
    monkeypatch.setattr(passphrase, "agrees", lambda kept, given: given == RIGHT)
    return shown


@pytest.fixture
def alone() -> Gated:
    """A dashboard that this computer only can reach."""
    return Gated(Gate(behind, ["barn.local", "127.0.0.1"], None, MOST_BYTES), None, Clock())
