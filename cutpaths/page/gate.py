"""The gate: who may speak to the server, and how much they may say.

The server listens on the loopback address alone. A page on another site that reaches it through the browser is told
by its Host (a name that was pointed at this machine) or its Origin; another user of the machine has no token.
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any, TypeAlias
from urllib.parse import parse_qs

Scope: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send: TypeAlias = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App: TypeAlias = Callable[[Scope, Receive, Send], Awaitable[None]]

# Everything comes from this server; pictures are drawn in the page. Source: W3C Content Security Policy Level 3.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS = [
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
]
MOST_BODY = 12 * 2**20
NO_TOKEN = (
    "This page opens with the link that `cutpaths page` shows when it starts. Take that link; its work is kept here."
)


class Gate:
    """ASGI middleware: Host, Origin, token and size of the body, before anything else looks at the request."""

    def __init__(self, app: App, *, token: str, hosts: tuple[str, ...], cookie: str) -> None:
        self.app, self.token, self.hosts, self.cookie = app, token, hosts, cookie

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer here what may not pass."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await _say(send, *refusal)
            return
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        if scope["path"] == "/" and scope["method"] == "GET" and self._is_token(given):
            mark = f"{self.cookie}={self.token}; Path=/; HttpOnly; SameSite=Strict"
            await _say(send, 303, "", [(b"location", b"/"), (b"set-cookie", mark.encode())])
            return
        if not self._has_cookie(headers):
            await _say(send, 403, NO_TOKEN)
            return
        await self.app(scope, _limited(receive), _marked(send))

    def _refusal(self, scope: Scope, headers: dict[str, list[str]]) -> tuple[int, str] | None:
        host = headers.get("host", [])
        if len(host) != 1 or host[0].lower() not in self.hosts:
            return 421, "This server answers to its own address only."
        origin = headers.get("origin", [])
        writes = scope["method"] not in ("GET", "HEAD")
        if (writes or origin) and origin != [f"http://{host[0]}"]:
            return 403, "This request comes from another page."
        if writes and headers.get("sec-fetch-site", ["same-origin"]) != ["same-origin"]:
            return 403, "This request comes from another page."
        length = headers.get("content-length", ["0"])[0]
        if not (length.isascii() and length.isdigit() and len(length) < 16) or int(length) > MOST_BODY:
            return 413, f"More than {MOST_BODY // 2**20} MB is not taken."
        return None

    def _is_token(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self.token.encode())

    def _has_cookie(self, headers: dict[str, list[str]]) -> bool:
        try:
            jar = SimpleCookie("; ".join(headers.get("cookie", [])))
        except CookieError:
            return False
        return self.cookie in jar and self._is_token(jar[self.cookie].value)


class TooLargeError(Exception):
    """A body that grew over what is taken."""


def _limited(receive: Receive) -> Receive:
    """The body, up to the cap: a sender that does not say its length is stopped as well."""
    seen = 0

    async def counted() -> MutableMapping[str, Any]:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MOST_BODY:
            raise TooLargeError
        return message

    return counted


def _marked(send: Send) -> Send:
    async def with_headers(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", []), *HEADERS]}
        await send(message)

    return with_headers


async def _say(send: Send, status: int, words: str, more: list[tuple[bytes, bytes]] | None = None) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *HEADERS, *(more or [])]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words.encode()})
