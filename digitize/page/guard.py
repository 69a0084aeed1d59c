"""Who may ask: a browser that was let in by a code, from this page itself, by this page's name.

By default the page listens on this computer alone. A site elsewhere could still make a browser ask
it (cross-site request forgery) or give its own name this computer's address (DNS rebinding): so the
Host that is asked for has to be one of the page's own, whatever changes something has to come from
the page's own Origin, and everything needs a session's cookie. A code lets in one browser, once.
"""

import secrets
import time
from asyncio import timeout
from contextlib import suppress
from dataclasses import dataclass, field

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "pattern-page"
ENTER = "/enter"
MOST_CODES, MOST_SESSIONS = 16, 64
LAPSES_S = 1800.0  # of a code that nobody used
MOST_TAKEN_BYTES, TAKEN_S = 65_536, 0.2  # of a request that is refused
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' data: blob:; connect-src 'self'; form-action 'none'; base-uri 'none'; "
    "frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}


@dataclass
class Doors:
    """The names that the page answers to, codes not used yet with when they lapse, and sessions."""

    hosts: frozenset[str]
    codes: list[tuple[str, float]] = field(default_factory=list)
    sessions: list[str] = field(default_factory=list)

    def new_code(self) -> str:
        """A code that lets in one browser; the oldest of too many lapses."""
        code = secrets.token_urlsafe(24)
        self.codes = [*self.codes[-MOST_CODES + 1 :], (code, time.monotonic() + LAPSES_S)]
        return code

    def let_in(self, code: str) -> str | None:
        """A new session for a code, which is used up by it; None if it is none."""
        now = time.monotonic()
        known = [each for each in self.codes if _same(each[0], code) and now < each[1]]
        if not known:
            return None
        self.codes.remove(known[0])
        session = secrets.token_urlsafe(32)
        self.sessions = [*self.sessions[-MOST_SESSIONS + 1 :], session]
        return session

    def knows(self, session: str) -> bool:
        """Whether a session was let in."""
        return sum(_same(each, session) for each in self.sessions) > 0  # all, in constant time


def _same(one: str, other: str) -> bool:
    return secrets.compare_digest(one.encode(), other.encode())


async def _taken(receive: Receive) -> None:
    """Take what little of a refused request is on its way: closing on it would lose the answer."""
    left = MOST_TAKEN_BYTES
    with suppress(TimeoutError):
        async with timeout(TAKEN_S):
            while left > 0:
                message = await receive()
                if not message.get("more_body", False):
                    return
                left -= len(message.get("body", b""))


class Guard:
    """Lets through what may ask, and says to the browser what the page may do."""

    def __init__(self, app: ASGIApp, doors: Doors) -> None:
        self.app, self.doors = app, doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            refused.headers["connection"] = "close"  # whatever else comes is not read
            await _taken(receive)
            await refused(scope, receive, with_headers)
        else:
            await self.app(scope, receive, with_headers)

    def _refused(self, scope: Scope) -> Response | None:
        """Why a request is not answered; or, for a code, the way in."""
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if host not in self.doors.hosts:
            return PlainTextResponse("This page does not go by that name.", 421)
        asks = scope["method"] in ("GET", "HEAD")
        origin = headers.get("origin")
        if origin != f"http://{host}" and not (asks and origin is None):
            return PlainTextResponse("Only the page itself may ask for that.", 403)
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin") and not (
            asks and headers.get("sec-fetch-mode") == "navigate"
        ):
            return PlainTextResponse("Only the page itself may ask for that.", 403)
        if scope["path"] == ENTER and scope["method"] == "GET":
            return self._entered(scope)
        session = cookie_parser(headers.get("cookie", "")).get(cookie_name(host), "")
        if not self.doors.knows(session):
            return PlainTextResponse(
                "This page is not open to you: scan the code that digitize page shows, or that "
                "the page shows under Phone.",
                401,
            )
        return None

    def _entered(self, scope: Scope) -> Response:
        code = scope["query_string"].decode("latin-1").removeprefix("code=")
        session = self.doors.let_in(code)
        if session is None:
            return PlainTextResponse(
                "This code was used already, or is old: ask for a new one.", 401
            )
        answer = RedirectResponse("/", 303)
        host = Headers(scope=scope)["host"]
        answer.set_cookie(cookie_name(host), session, httponly=True, samesite="lax", path="/")
        return answer


def cookie_name(host: str) -> str:
    """A session's cookie; cookies know no ports, and another page may be open on another."""
    return f"{COOKIE}-{host.rpartition(':')[2]}"
