"""Who may ask? Only the page that this process served, on this machine.

Against pages of other sites that the same browser shows: they may send requests here, yet know
neither the token nor get the cookie sent along, and say where they come from. A name that another
site points at this machine (DNS rebinding) is not ours. Sources: Fetch Standard (Origin), RFC
6265bis (SameSite), Fetch Metadata Request Headers (W3C).
"""

from __future__ import annotations

import secrets
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

TOKEN_BYTES = 32
_SAFE = ("GET", "HEAD")
_ALWAYS = (
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cache-control", "no-store"),
)
_NOTHING = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"


class Guard:
    """Hands on what the page itself asks for, and refuses the rest in plain words."""

    def __init__(self, app: ASGIApp, port: int, token: str) -> None:
        self._app, self._token = app, token
        self._hosts = frozenset({f"127.0.0.1:{port}", f"localhost:{port}"})
        self._origins = frozenset(f"http://{host}" for host in self._hosts)
        self._cookie = f"basslint-{port}"  # cookies do not know ports: two runs must not meet

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":  # nothing else is served
            return
        answer = self._refusal(scope)
        await (answer or self._app)(scope, receive, _with_headers(send))

    def _refusal(self, scope: Scope) -> Response | None:
        """What is answered instead; None where the request may pass."""
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0] not in self._hosts:
            return _no("This address is not served here. Open the one that the terminal shows.")
        origins = headers.getlist("origin")
        if any(origin not in self._origins for origin in origins):
            return _no("Another site asked for this; it was not done.")
        if scope["method"] not in _SAFE and origins != [f"http://{hosts[0]}"]:
            return _no("It is not known which page asked for this; it was not done.")
        query = parse_qs(scope["query_string"].decode("latin-1"))
        if self._is_token(query.get("token", [""])[-1]) and scope["method"] in _SAFE:
            answer = RedirectResponse("/", 303)
            answer.set_cookie(self._cookie, self._token, httponly=True, samesite="strict", path="/")
            return answer
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return _no("Another site asked for this; it was not done.")
        if not self._is_token(self._given(headers)):
            return _no("This page was not opened from here. Open the address of the terminal.")
        return None

    def _given(self, headers: Headers) -> str:
        try:
            morsel = SimpleCookie(headers.get("cookie", "")).get(self._cookie)
        except CookieError:
            return ""
        return morsel.value if morsel else ""

    def _is_token(self, text: str) -> bool:
        return secrets.compare_digest(text.encode("utf-8", "replace"), self._token.encode("ascii"))


def _no(words: str) -> Response:
    return PlainTextResponse(words + "\n", 403, {"connection": "close"})


def _with_headers(send: Send) -> Send:
    """Adds what every answer says: where nothing else is said, that it may do nothing at all."""

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = message["headers"]
            headers.extend((n.encode("ascii"), v.encode("ascii")) for n, v in _ALWAYS)
            if not any(name == b"content-security-policy" for name, _ in headers):
                headers.append((b"content-security-policy", _NOTHING.encode("ascii")))
        await send(message)

    return sent
