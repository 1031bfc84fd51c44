"""The panel's web server: one page, its files, the recordings, and a socket per page."""

import asyncio
import contextlib
import socket
from collections.abc import AsyncIterator
from importlib import resources
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket

from oxlatch_tools.panel.audience import PAGES_MAX, TRY_LATER, Audience
from oxlatch_tools.panel.door import Door
from oxlatch_tools.panel.library import LARGEST_BYTES, Library, LibraryError
from oxlatch_tools.panel.messages import LONGEST, TICKS_MAX
from oxlatch_tools.panel.recording_session import RecordingSession
from oxlatch_tools.panel.session import Session

NO_RECORDING = 4404
"""Close code that tells a page its recording cannot be shown."""
STATIC = Path(str(resources.files("oxlatch_tools.panel").joinpath("static")))


class Panel:
    """The application around one main session and a library of recordings."""

    def __init__(self, session: Session, library: Library, names: frozenset[str]) -> None:
        self.library = library
        self.main = Audience(session)
        self.others: set[Audience] = set()
        self.app = Starlette(
            routes=[
                Route("/", self.page),
                Route("/recordings", self.list_recordings),
                Route("/recordings/{name}", self.give_recording, methods=["GET"]),
                Route("/recordings/{name}", self.take_recording, methods=["POST"]),
                WebSocketRoute("/live", self.live),
                WebSocketRoute("/recording/{name}", self.walk),
                Mount("/static", StaticFiles(directory=STATIC)),
            ],
            middleware=[Middleware(Door, names=names)],
            lifespan=self.lifespan,
        )

    @contextlib.asynccontextmanager
    async def lifespan(self, _app: Starlette) -> AsyncIterator[None]:
        """The session lives exactly as long as the server; its pages are told when it ends."""
        runner = asyncio.create_task(self.main.run())
        yield
        for audience in (self.main, *self.others):
            await audience.dismiss()
        runner.cancel()

    async def page(self, _request: Request) -> Response:
        """The one page."""
        return FileResponse(STATIC / "index.html")

    async def list_recordings(self, _request: Request) -> Response:
        """Names and sizes."""
        return JSONResponse(self.library.names())

    async def give_recording(self, request: Request) -> Response:
        """A recording as a file."""
        try:
            path = self.library.path(request.path_params["name"])
        except LibraryError as error:
            return PlainTextResponse(str(error), 404)
        return FileResponse(path, media_type="application/jsonl", filename=path.name)

    async def take_recording(self, request: Request) -> Response:
        """A recording from the person's own disk, kept in the folder of recordings."""
        data = bytearray()
        async for chunk in request.stream():
            data += chunk
            if len(data) > LARGEST_BYTES:
                raise HTTPException(413, f"a recording has {LARGEST_BYTES >> 20} MB at most")
        try:
            name = await asyncio.to_thread(self.library.take_in, request.path_params["name"], bytes(data))
        except (LibraryError, OSError) as error:
            return PlainTextResponse(str(error), 400)
        return JSONResponse({"name": name})

    async def live(self, websocket: WebSocket) -> None:
        """The main session: the virtual bench, or a real controller."""
        await self.main.welcome(websocket)

    async def walk(self, websocket: WebSocket) -> None:
        """A walk through a recording, one for each page."""
        if len(self.others) >= PAGES_MAX:
            await websocket.close(TRY_LATER, f"{PAGES_MAX} recordings are open already")
            return
        name = websocket.path_params["name"]
        asked = websocket.query_params.get("tick", "0")
        tick = int(asked) if asked.isdigit() and len(asked) < len(str(TICKS_MAX)) else 0
        try:
            recording, ticks = await asyncio.to_thread(self.library.open, name)
            if not ticks.lines:
                raise LibraryError(f"{name} holds no tick")
        except LibraryError as error:
            await websocket.accept()
            await websocket.close(NO_RECORDING, str(error)[:120])
            return
        audience = Audience(RecordingSession(name, recording, ticks, tick))
        self.others.add(audience)
        runner = asyncio.create_task(audience.run())
        try:
            await audience.welcome(websocket)
        finally:
            runner.cancel()
            self.others.discard(audience)


def server_of(panel: Panel) -> uvicorn.Server:
    """The server that will give out this panel."""
    return uvicorn.Server(
        uvicorn.Config(
            panel.app,
            log_level="error",
            access_log=False,
            ws="websockets-sansio",
            ws_max_size=2 * LONGEST,
            ws_per_message_deflate=False,
            server_header=False,
            timeout_graceful_shutdown=2,
        )
    )


def serve(panel: Panel, listening: socket.socket) -> None:
    """Serve until interrupted; the interrupt ends it in good order and goes no further."""
    with contextlib.suppress(KeyboardInterrupt):
        server_of(panel).run(sockets=[listening])
