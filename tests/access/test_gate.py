"""The gate: what it lets through, what it answers itself, and what it tells the browser."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ClientState_pb2 import ClientState

from dashboard import words_access
from dashboard.access import doorway, gate, passphrase
from dashboard.access.sessions import IDLE_SECONDS, WHOLE_SECONDS

RIGHT = "four odd words here"
ORIGIN = "https://barn.local:8624"
PATHS = ("/", "/pens?measure=fertility", "/_stcore/health", "/_stcore/upload_file/a/b", "/media/x.csv",
         "/static/a.js", "/component/a/b.js",
         "/sign-in/../pens", "/SIGN-IN", "//sign-in", "/signed-in")  # fmt: skip


class Line:
    """A live connection through the gate, held open by hand."""

    def __init__(self, gated: Any, headers: dict[str, str]) -> None:
        self.said: list[dict[str, Any]] = []
        self._coming: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self._coming.put_nowait({"type": "websocket.connect"})
        scope = gated.scope("websocket", "/_stcore/stream", headers, "192.0.2.7")
        self.work = asyncio.ensure_future(gated.gate(scope, self._coming.get, self._send))

    async def _send(self, message: dict[str, Any]) -> None:
        self.said.append(message)

    async def say(self, *, by_itself: bool = False) -> None:
        asked = BackMsg(rerun_script=ClientState(is_auto_rerun=by_itself))
        self._coming.put_nowait({"type": "websocket.receive", "bytes": asked.SerializeToString()})
        await self.settle()

    async def leave(self) -> None:
        self._coming.put_nowait({"type": "websocket.disconnect", "code": 1001})
        await asyncio.wait_for(self.work, 5)

    async def settle(self) -> None:
        for _ in range(20):
            await asyncio.sleep(0)

    @property
    def kinds(self) -> list[str]:
        return [message["type"].removeprefix("websocket.") for message in self.said]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("method", ["GET", "PUT", "HEAD", "OPTIONS"])
def test_nothing_is_answered_without_a_session(shown, path: str, method: str) -> None:
    shown.cookie = "__Host-penwise=made-up"
    answer = shown.ask(path, method)
    assert (answer.status, answer.text) in ((401, words_access.SIGNED_OUT), (401, ""))


def test_a_page_without_a_session_is_the_door(shown) -> None:
    answer = shown.ask("/pens?measure=fertility&pen=A", headers={"accept": "text/html,*/*"})
    assert answer.status == 401
    assert 'value="/pens?measure=fertility&amp;pen=A"' in answer.text
    assert "behind" not in answer.text
    assert answer.headers["cache-control"] == "no-store"


def test_the_right_passphrase_lets_in_and_leads_to_what_was_asked(shown) -> None:
    answer = shown.sign_in(f" {RIGHT}\n", onward="/pens?measure=fertility")
    assert (answer.status, answer.headers["location"]) == (303, "/pens?measure=fertility")
    assert shown.ask("/media/x.csv").is_from_behind
    assert shown.ask("/signed-in").status == 200


def test_a_wrong_passphrase_is_refused_named_in_the_window_and_never_written(shown, caplog) -> None:
    answer = shown.sign_in("four odd words there")
    assert (answer.status, "set-cookie" in answer.headers) == (403, False)
    assert words_access.WRONG in answer.text
    assert not shown.ask().is_from_behind
    assert "192.0.2.7" in caplog.text
    assert "words there" not in caplog.text + answer.text


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(quick) -> None:
    told = quick.sign_in().headers["set-cookie"]
    assert told.startswith("__Host-penwise=")
    assert {"HttpOnly", "Secure", "Path=/", "SameSite=lax"} <= {part.strip() for part in told.split(";")}
    assert "Domain" not in told
    assert len(told.split("=")[1].split(";")[0]) == 43  # 32 random bytes
    assert quick.cookie.split("=")[1] not in repr(vars(quick.door.sessions))


def test_a_session_ends_when_idle_and_after_a_week_whatever_its_use(quick) -> None:
    quick.sign_in()
    quick.clock.now += IDLE_SECONDS - 1
    assert quick.ask("/signed-in").status == 200  # asking is no use of it
    quick.clock.now += 1
    assert quick.ask("/signed-in").status == 401
    assert not quick.ask().is_from_behind
    quick.sign_in()
    for _ in range(WHOLE_SECONDS // (IDLE_SECONDS - 1)):
        assert quick.ask().is_from_behind
        quick.clock.now += IDLE_SECONDS - 1
    quick.clock.now += IDLE_SECONDS // 2
    assert not quick.ask().is_from_behind


@pytest.mark.parametrize("way", ["forget", "another"])
def test_a_new_passphrase_signs_all_out(quick, way: str) -> None:
    quick.sign_in()
    assert quick.ask().is_from_behind
    if way == "forget":
        assert passphrase.forget(quick.door.folder)
        assert quick.sign_in().status == 403
    else:
        passphrase.keep(quick.door.folder, RIGHT)  # the same words again are a new hash
    assert not quick.ask().is_from_behind


def test_signing_out_ends_the_session_and_not_the_cookie_alone(quick) -> None:
    quick.sign_in()
    answer = quick.ask("/sign-out", "POST", headers={"origin": ORIGIN})
    assert (answer.status, answer.headers["location"]) == (303, "/sign-in")
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert not quick.ask().is_from_behind
    quick.sign_in()
    assert quick.ask("/sign-out").is_from_behind  # a link or a picture signs nobody out


def test_a_second_sign_in_ends_the_first_session_of_that_browser(quick) -> None:
    quick.sign_in()
    first = quick.cookie
    quick.sign_in()
    quick.cookie = first
    assert not quick.ask().is_from_behind


@pytest.mark.parametrize(
    "onward",
    [
        "https://evil.example/",
        "//evil.example",
        "/\\evil.example",
        "pens",
        "/a\r\nSet-Cookie: x",
        "/sign-out",
        "",
    ],
)
def test_after_signing_in_nobody_is_led_elsewhere(quick, onward: str) -> None:
    assert quick.sign_in(onward=onward).headers["location"] == "/"


@pytest.mark.parametrize("host", ["evil.example", "barn.local.evil.example", "", "barn.local@evil.example",
                                  "192.0.2.21", "[::1]", "barn.local/x", "barn.local:x"])  # fmt: skip
@pytest.mark.parametrize("which", ["quick", "alone"])
def test_a_foreign_name_gets_nothing(which: str, host: str, request) -> None:
    gated = request.getfixturevalue(which)
    if gated.door:
        gated.sign_in()
    for path in ("/", "/_stcore/health", "/sign-in"):
        answer = gated.ask(path, headers={"host": host})
        assert (answer.status, answer.text) == (403, words_access.FOREIGN_NAME)


@pytest.mark.parametrize("host", ["barn.local", "BARN.local.", "barn.local:80"])
def test_our_own_names_are_known_in_every_spelling(alone, host: str) -> None:
    assert alone.ask(headers={"host": host}).is_from_behind


@pytest.mark.parametrize(
    "origin",
    [
        "https://evil.example",
        "http://barn.local:8624",
        "https://barn.local",
        "https://barn.local:9000",
        "null",
    ],
)
@pytest.mark.parametrize("which", ["quick", "alone"])
def test_a_request_of_another_page_is_refused(which: str, origin: str, request) -> None:
    gated = request.getfixturevalue(which)
    if gated.door:
        assert gated.sign_in(headers={"origin": ORIGIN}).status == 303
    assert gated.ask(headers={"origin": ORIGIN}).is_from_behind
    for method, path in (
        ("GET", "/_stcore/health"),
        ("PUT", "/_stcore/upload_file/a/b"),
        ("POST", "/sign-out"),
    ):
        answer = gated.ask(path, method, headers={"origin": origin})
        assert (answer.status, answer.text) == (403, words_access.FOREIGN_PAGE)
    asyncio.run(_refused_line(gated, {"origin": origin}))


async def _refused_line(gated: Any, headers: dict[str, str]) -> None:
    line = Line(gated, headers)
    await asyncio.wait_for(line.work, 5)
    assert line.said == [{"type": "websocket.close", "code": 1008}]


def test_a_live_connection_needs_a_session(quick) -> None:
    asyncio.run(_refused_line(quick, {"origin": ORIGIN}))
    asyncio.run(_refused_line(quick, {"origin": ORIGIN, "cookie": "__Host-penwise=made-up"}))
    quick.sign_in()

    async def talk() -> None:
        line = Line(quick, {"origin": ORIGIN})
        await line.say()
        assert line.kinds == ["accept", "send"]
        await line.leave()
        assert line.kinds == ["accept", "send"]

    asyncio.run(talk())


@pytest.mark.parametrize("way", ["idle", "signed out", "another passphrase"])
def test_a_live_connection_ends_with_its_session(quick, way: str, monkeypatch) -> None:
    monkeypatch.setattr(gate, "LOOK_SECONDS", 0.01)
    quick.sign_in()

    async def talk() -> None:
        line = Line(quick, {"origin": ORIGIN})
        quick.clock.now += IDLE_SECONDS - 1
        await line.say()  # a press is a use
        quick.clock.now += IDLE_SECONDS - 1
        assert quick.door.sessions.is_open(quick.cookie.split("=")[1], passphrase.stored(quick.door.folder))
        if way == "idle":
            quick.clock.now += 1
        elif way == "signed out":
            quick.door.sessions.end(quick.cookie.split("=")[1])
        else:
            passphrase.keep(quick.door.folder, RIGHT)
        await asyncio.wait_for(line.work, 5)
        assert line.kinds == ["accept", "send", "close"]

    asyncio.run(talk())


def test_a_page_that_draws_itself_again_does_not_keep_its_session_open(quick, monkeypatch) -> None:
    monkeypatch.setattr(gate, "LOOK_SECONDS", 0.01)
    quick.sign_in()

    async def talk() -> None:
        line = Line(quick, {"origin": ORIGIN})
        for hours in range(12):
            assert line.kinds.count("send") == hours
            await line.say(by_itself=True)
            quick.clock.now += 3600
        await asyncio.wait_for(line.work, 5)
        assert line.kinds[-1] == "close"

    asyncio.run(talk())


def test_after_wrong_tries_the_right_passphrase_has_to_wait_too(quick) -> None:
    for _ in range(3):
        assert quick.sign_in("wrong").status == 403
    answer = quick.sign_in()
    assert (answer.status, answer.headers["retry-after"]) == (429, "2")
    assert "Wait 1 second," in answer.text
    assert quick.sign_in(client="192.0.2.8").status == 303
    quick.clock.now += 1
    assert quick.sign_in().status == 303


def test_tries_at_the_same_time_count_too(shown, monkeypatch) -> None:
    looked_at = []
    monkeypatch.setattr(passphrase, "agrees", lambda kept, given: looked_at.append(given))

    async def all_at_once() -> list[int]:
        asked = [shown.ask_async("/sign-in", "POST", body=b"passphrase=a%d" % n) for n in range(40)]
        return [answer.status for answer in await asyncio.gather(*asked)]

    statuses = asyncio.run(all_at_once())
    assert (statuses.count(403), statuses.count(429), len(looked_at)) == (3, 37, 3)


def test_few_wait_for_their_passphrase_to_be_looked_at(shown, monkeypatch) -> None:
    at_once, most = 0, 0

    def slow(kept: str, given: str) -> bool:
        nonlocal at_once, most
        at_once += 1
        most = max(most, at_once)
        at_once -= 1
        return False

    monkeypatch.setattr(passphrase, "agrees", slow)

    async def all_at_once() -> list[int]:
        asked = [
            shown.ask_async("/sign-in", "POST", body=b"passphrase=a", client=f"192.0.2.{n}")
            for n in range(30)
        ]
        return [answer.status for answer in await asyncio.gather(*asked)]

    statuses = asyncio.run(all_at_once())
    assert statuses.count(403) == gate.MOST_WAITING
    assert statuses.count(429) == 30 - gate.MOST_WAITING
    assert most == 1


def test_a_form_larger_than_the_doors_is_not_read(quick) -> None:
    quick.gate._most_bytes = 10**6
    answer = quick.ask("/sign-in", "POST", body=b"passphrase=" + b"a" * doorway.MOST_BYTES)
    assert (answer.status, answer.text) == (413, words_access.TOO_LARGE)


@pytest.mark.parametrize("length", ["1001", "-1", "many", "1" * 30])
def test_a_request_too_large_is_refused(alone, length: str) -> None:
    assert alone.ask("/_stcore/upload_file/a/b", "PUT", headers={"content-length": length}).status == 413
    assert alone.ask("/_stcore/upload_file/a/b", "PUT", headers={"content-length": "1000"}).is_from_behind


@pytest.mark.parametrize("which", ["quick", "alone"])
def test_every_answer_says_who_may_show_it_and_whom_it_may_call(which: str, request) -> None:
    gated = request.getfixturevalue(which)
    answers = [gated.ask(), gated.ask(headers={"host": "evil.example"}), gated.ask("/sign-in")]
    for answer in answers:
        policy = dict(part.split(" ", 1) for part in answer.headers["content-security-policy"].split("; "))
        assert policy["default-src"] == "'self'"
        assert policy["frame-ancestors"] == policy["object-src"] == "'none'"
        assert not {"'unsafe-inline'", "'unsafe-eval'", "*", "https:", "data:"} & set(
            policy["script-src"].split()
        )
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"
        assert answer.headers["referrer-policy"] == "same-origin"


def test_what_is_behind_the_door_is_kept_in_no_cache(quick) -> None:
    quick.sign_in()
    assert quick.ask("/media/x.csv").headers["cache-control"] == "no-store"
    assert quick.ask("/static/frame.js").headers["cache-control"] == "public"


@pytest.mark.parametrize("encrypted", [True, False])
def test_unencrypted_is_said_plainly(encrypted: bool) -> None:
    assert (words_access.NOT_ENCRYPTED in doorway.page("/", encrypted=encrypted)) is not encrypted


def test_what_was_asked_for_is_text_on_the_door(shown) -> None:
    asked = '/?pen="><script>alert(1)</script>'
    assert "<script" not in shown.ask(asked, headers={"accept": "text/html"}).text
