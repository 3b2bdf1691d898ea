"""The gate before the whole dashboard: pages, files, uploads and the live connection alike.

It stands before everything that Streamlit answers. A request must name this computer, must not come from
another page, and, where the network may look, must belong to a session; everything else gets the door.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard import words_access
from dashboard.access import doorway, passphrase
from dashboard.access.headers import security_headers
from dashboard.access.sessions import WHOLE_SECONDS, Sessions
from dashboard.access.tries import Tries

LOOK_SECONDS = 2.0
"""How often a live connection looks whether its session has ended."""
MOST_WAITING = 4
"""Passphrases that may wait to be looked at; each takes 64 MB for a moment."""
_POLICY_VIOLATION = 1008
_log = logging.getLogger("penwise.access")


@dataclass(slots=True)
class Door:
    """What the gate needs to know of those who may enter.

    Attributes:
        folder: where the passphrase is kept.
        encrypted: whether the connection is.
        sessions: who is signed in.
        tries: who gave wrong passphrases.
        turn: one passphrase is looked at at a time.
        waiting: how many are waiting for that.
    """

    folder: Path
    encrypted: bool
    sessions: Sessions = field(default_factory=Sessions)
    tries: Tries = field(default_factory=Tries)
    turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    waiting: int = 0

    @property
    def cookie(self) -> str:
        """Name of the cookie; the prefix makes browsers refuse one that another place has set."""
        return "__Host-penwise" if self.encrypted else "penwise"

    def is_open(self, request: HTTPConnection, *, used: bool = False) -> bool:
        """Whether a request belongs to a session."""
        return self.sessions.is_open(
            request.cookies.get(self.cookie), passphrase.stored(self.folder), used=used
        )


class Gate:
    """The gate as ASGI middleware.

    Args:
        app: what lies behind it.
        hosts: names and addresses under which this computer answers.
        door: who may enter; None where only this computer can reach it.
        most_bytes: bytes that one request may bring.
    """

    def __init__(self, app: ASGIApp, hosts: Collection[str], door: Door | None, most_bytes: int) -> None:
        self._app = app
        self._hosts = frozenset(host.lower() for host in hosts)
        self._door = door
        self._most_bytes = most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Lets a request through, or answers it."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        request = HTTPConnection(scope)
        refusal = self._refusal(request)
        if scope["type"] == "websocket":
            await self._connect(request, receive, send, refused=refusal is not None)
            return
        send = self._with_headers(send, scope["path"])
        answer = refusal or await self._answer_of_door(request, receive)
        await (answer or self._app)(scope, receive, send)

    def _refusal(self, request: HTTPConnection) -> Response | None:
        """The answer to a request that is none of ours, whoever sends it."""
        host, origin = request.headers.get("host", ""), request.headers.get("origin")
        if _name_of(host) not in self._hosts:
            return PlainTextResponse(words_access.FOREIGN_NAME, 403)
        scheme = "https" if request.scope["scheme"] in ("https", "wss") else "http"
        if origin is not None and origin.lower() != f"{scheme}://{host}".lower():
            return PlainTextResponse(words_access.FOREIGN_PAGE, 403)
        length = request.headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > self._most_bytes:
            return PlainTextResponse(words_access.TOO_LARGE, 413)
        return None

    async def _answer_of_door(self, request: HTTPConnection, receive: Receive) -> Response | None:
        """The door's answer; None when the request may go on."""
        door, path, method = self._door, request.scope["path"], request.scope["method"]
        if door is None:
            return None
        if path == doorway.SIGN_IN:
            if method == "POST":
                return await _sign_in(door, request, receive)
            return _page(door, "/")
        if path == doorway.SIGN_OUT and method == "POST":
            return _sign_out(door, request)
        if path == doorway.SIGNED_IN:
            return PlainTextResponse("", 200 if door.is_open(request) else 401)
        if door.is_open(request, used=True):
            return None
        if method == "GET" and "text/html" in request.headers.get("accept", ""):
            query = request.url.query
            return _page(door, doorway.inside(path + (f"?{query}" if query else "")), status=401)
        return PlainTextResponse(words_access.SIGNED_OUT, 401)

    async def _connect(self, request: HTTPConnection, receive: Receive, send: Send, *, refused: bool) -> None:
        """A live connection: refused before it opens, and closed when its session ends."""
        if refused or (self._door and not self._door.is_open(request, used=True)):
            await send({"type": "websocket.close", "code": _POLICY_VIOLATION})
            return
        if self._door:
            line = _LiveLine(self._door, request, receive, send)
            receive, send = line.receive, line.send
        await self._app(request.scope, receive, send)

    def _with_headers(self, send: Send, path: str) -> Send:
        """Adds what every answer says; of what is behind the door, caches keep the frame's own files only."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in security_headers().items():
                    headers[name] = value
                if self._door and not (path.startswith("/static/") and message["status"] == 200):
                    headers["cache-control"] = "no-store"
            await send(message)

        return send_with_headers


def _name_of(host: str) -> str:
    """The name in a Host header without its port; "" where it is not plainly one."""
    try:
        parts = urlsplit(f"//{host}")
        plain = not (parts.path or parts.query or parts.fragment or parts.username or parts.password)
        return (parts.hostname or "").rstrip(".") if plain and parts.port != 0 else ""
    except ValueError:
        return ""


class _LiveLine:
    """A live connection of a session: what either side sends, until the session ends."""

    def __init__(self, door: Door, request: HTTPConnection, receive: Receive, send: Send) -> None:
        self._door = door
        self._request = request
        self._receive = receive
        self._send = send
        self._ended = False

    async def receive(self) -> Message:
        """What the browser sends; the end of the connection when the session has ended."""
        coming = asyncio.ensure_future(self._receive())
        try:
            while not coming.done():
                await asyncio.wait({coming}, timeout=LOOK_SECONDS)
                if not self._door.is_open(self._request):
                    return await self._end(coming)
        finally:
            coming.cancel()
        message = coming.result()
        if message["type"] == "websocket.receive" and _is_by_hand(message.get("bytes") or b""):
            self._door.is_open(self._request, used=True)
        return message

    async def send(self, message: Message) -> None:
        """Passes on what the dashboard says; nothing after the end."""
        if not self._ended:
            await self._send(message)

    async def _end(self, coming: asyncio.Future[Message]) -> Message:
        gone = coming.done() and coming.result()["type"] == "websocket.disconnect"
        if not self._ended and not gone:
            await self._send({"type": "websocket.close", "code": _POLICY_VIOLATION})
        self._ended = True
        return {"type": "websocket.disconnect", "code": _POLICY_VIOLATION}


def _is_by_hand(said: bytes) -> bool:
    """Whether somebody did something on the page; a part that draws itself again now and then is no use."""
    from google.protobuf.message import DecodeError
    from streamlit.proto.BackMsg_pb2 import BackMsg

    try:
        message = BackMsg.FromString(said)
    except DecodeError:
        return False
    return not message.rerun_script.is_auto_rerun and message.WhichOneof("type") != "app_heartbeat"


def _page(door: Door, onward: str, trouble: str = "", status: int = 200) -> Response:
    return HTMLResponse(doorway.page(onward, trouble, encrypted=door.encrypted), status)


async def _sign_in(door: Door, request: HTTPConnection, receive: Receive) -> Response:
    body = await _body(receive)
    if body is None:
        return PlainTextResponse(words_access.TOO_LARGE, 413)
    given, onward = doorway.read_form(body)
    kept = passphrase.stored(door.folder)
    if kept is None:
        return _page(door, onward, words_access.NOT_SET, 403)
    address = request.client.host if request.client else ""
    seconds = door.tries.seconds_to_wait(address)
    if seconds > 0:
        return _wait(door, onward, words_access.wait(seconds), seconds)
    if door.waiting >= MOST_WAITING:
        return _wait(door, onward, words_access.BUSY, 1)
    door.tries.count(address)
    if not await _agrees(door, kept, given):
        _log.warning("Wrong passphrase from %s", address)
        return _page(door, onward, words_access.WRONG, 403)
    door.tries.was_right(address)
    return _let_in(door, request, kept, onward)


async def _agrees(door: Door, kept: str, given: str) -> bool:
    """Looks at one passphrase at a time, beside the loop that answers the others."""
    door.waiting += 1
    try:
        async with door.turn:
            return await asyncio.to_thread(passphrase.agrees, kept, given[: passphrase.MOST * 2])
    finally:
        door.waiting -= 1


def _let_in(door: Door, request: HTTPConnection, kept: str, onward: str) -> Response:
    door.sessions.end(request.cookies.get(door.cookie))
    answer = RedirectResponse(onward, 303)
    answer.set_cookie(
        door.cookie,
        door.sessions.begin(kept),
        max_age=WHOLE_SECONDS,
        path="/",
        secure=door.encrypted,
        httponly=True,
        samesite="lax",
    )
    return answer


def _sign_out(door: Door, request: HTTPConnection) -> Response:
    door.sessions.end(request.cookies.get(door.cookie))
    answer = RedirectResponse(doorway.SIGN_IN, 303)
    answer.delete_cookie(door.cookie, path="/", secure=door.encrypted, httponly=True, samesite="lax")
    return answer


def _wait(door: Door, onward: str, trouble: str, seconds: float) -> Response:
    answer = _page(door, onward, trouble, 429)
    answer.headers["retry-after"] = str(int(seconds) + 1)
    return answer


async def _body(receive: Receive) -> bytes | None:
    """What a form of the door brings; None when it is larger than such a form can be, or was cut off."""
    whole: bytes = b""
    while True:
        message = await receive()
        whole += message.get("body", b"")
        if message["type"] != "http.request" or len(whole) > doorway.MOST_BYTES:
            return None
        if not message.get("more_body", False):
            return whole
