"""Who may speak to the bench page: key, Host, Origin, size of what is sent, and the headers of every answer.

A page in another tab may send requests to this computer but cannot add the key's header, nor read an answer, since no
answer allows another origin (WHATWG, Fetch, 3.2). A foreign name that leads here is seen by the Host header. The shell
of the page holds no data and needs no key, as a browser cannot add a header to the first address.
"""

import hmac
import json
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from typing import Any

from flatten.sheets.refusals import RefusedError, told_as_json

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
AsgiApp = Callable[[Scope, Receive, Send], Awaitable[None]]

KEY_HEADER = "x-trimloft-key"
# A change of a sheet is a few numbers; a whole sheet is at most a megabyte.
MOST_BODY_BYTES = 1_200_000
DATA = "/api/"
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "font-src 'self'; manifest-src 'self'; object-src 'none'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'; frame-src blob:"
)
_HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
)


@dataclass(frozen=True)
class Guard:
    """Stands before the application. hosts: names and ports under which it may be spoken to; key: of this start."""

    app: AsgiApp
    hosts: frozenset[str]
    key: str

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        refused = self._refusal(scope)
        if refused is not None:
            await _answer(send, refused)
            return
        begun, taken = False, 0

        async def bounded() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > MOST_BODY_BYTES:
                raise _too_large()
            return message

        async def headed(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                store = b"no-store" if scope["path"].startswith(DATA) else b"no-cache"
                message["headers"] = [*message.get("headers", ()), *_HEADERS, (b"cache-control", store)]
            await send(message)

        try:
            await self.app(scope, bounded, headed)
        except RefusedError as fault:
            if not begun:
                await _answer(send, fault)

    def _refusal(self, scope: Scope) -> RefusedError | None:
        heads = [(name.decode("latin-1").lower(), value.decode("latin-1")) for name, value in scope["headers"]]
        given = dict(heads)
        if [name for name, _ in heads].count("host") != 1 or given.get("host", "").lower() not in self.hosts:
            text = "this address does not lead to the bench page by that name; open the address that was printed"
            return RefusedError(403, "W302", "Host", text)
        origin, site = given.get("origin"), given.get("sec-fetch-site")
        # The first address may be opened from anywhere: typed, or from the code that the tablet's camera reads.
        own = site in (None, "same-origin") or (site == "none" or not scope["path"].startswith(DATA))
        if (origin is not None and origin.lower() != f"http://{given['host'].lower()}") or not own:
            return RefusedError(403, "W303", "Origin", "another page asked for this; only the bench page itself may")
        if not scope["path"].startswith(DATA):
            return None
        if not hmac.compare_digest(given.get(KEY_HEADER, "").encode(), self.key.encode()):
            text = "the key is missing or is of an earlier start; open the address that the command printed"
            return RefusedError(401, "W301", "key", text)
        if given.get("content-length", "0").isdigit() and int(given.get("content-length", "0")) > MOST_BODY_BYTES:
            return _too_large()
        return None


def _too_large() -> RefusedError:
    text = f"more than {MOST_BODY_BYTES} bytes were sent; a sheet is a short text"
    return RefusedError(413, "W304", "body", text)


async def _answer(send: Send, refused: RefusedError) -> None:
    body = json.dumps({"problems": told_as_json([refused.problem])}).encode()
    heads = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()), *_HEADERS]
    heads += [(b"cache-control", b"no-store"), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": refused.status, "headers": heads})
    await send({"type": "http.response.body", "body": body})
