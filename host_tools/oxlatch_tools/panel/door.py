"""Who may come in: requests that name this very server, from pages that this very server gave out.

A page of any other site can send requests to a loopback port; the Origin that browsers add tells it apart, and the
Host tells a name that somebody else has pointed at this machine.
"""

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
HTTP_PORT = 80
POLICY_VIOLATED = 1008
SECURITY_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-cache",
}


def own_names(address: str, port: int) -> frozenset[str]:
    """The Host headers that mean this server."""
    shown = f"[{address}]" if ":" in address else address
    names = {shown.lower(), *(LOOPBACK_NAMES if is_loopback(address) else ())}
    ported = {f"{name}:{port}" for name in names}
    return frozenset(ported | names if port == HTTP_PORT else ported)


def is_loopback(address: str) -> bool:
    """Whether only this machine can reach the address."""
    return address in ("localhost", "::1") or address.startswith("127.")


class Door:
    """Refuses a foreign Host, a foreign Origin, and a change or a socket without any Origin."""

    def __init__(self, app: ASGIApp, names: frozenset[str]) -> None:
        self.app = app
        self.names = names
        self.origins = {f"http://{name}" for name in names}
        self.refused = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        problem = self.problem(scope)
        if not problem:
            await self.app(scope, receive, _with_headers(send))
            return
        self.refused += 1
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": POLICY_VIOLATED, "reason": problem})
        else:
            await PlainTextResponse(problem, 403)(scope, receive, send)

    def problem(self, scope: Scope) -> str:
        """Why this request may not come in; empty when it may."""
        headers = Headers(scope=scope)
        if headers.get("host", "").lower() not in self.names:
            return "this server does not go by that name"
        origin = headers.get("origin")
        if origin is not None:
            return "" if origin.lower() in self.origins else "the request comes from another site"
        must_have = scope["type"] == "websocket" or scope.get("method") not in ("GET", "HEAD")
        return "the request does not say where it comes from" if must_have else ""


def _with_headers(send: Send) -> Send:
    async def send_with(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in SECURITY_HEADERS.items():
                headers[name] = value
        await send(message)

    return send_with
