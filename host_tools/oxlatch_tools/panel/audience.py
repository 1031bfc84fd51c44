"""The pages that look at one session: what they say goes in, frames go out, and a slow page holds nobody up.

A frame is made and put into JSON once for all pages. Each page has a sender of its own that always sends the newest
frame; frames that a slow page missed are never sent, and counted. Rows of the strip charts are not lost with them.
"""

import asyncio
import itertools
import json
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from oxlatch_tools.panel.messages import MessageError, read
from oxlatch_tools.panel.session import AT_ONCE, NOTHING_NEW, Session

LOOK_S = 0.004
FRAME_S = 0.03
HEARTBEAT_S = 0.5
MESSAGES_PER_S = 400.0
MESSAGES_BURST = 200.0
PAGES_MAX = 32
GOING_AWAY, TRY_LATER = 1001, 1013


class Page:
    """One page's connection."""

    def __init__(self, websocket: WebSocket, hand: int) -> None:
        self.websocket = websocket
        self.hand = hand
        self.wake = asyncio.Event()
        self.epoch = -1
        self.total = 0
        self.frame_number = 0
        self.missed = 0
        self._allowance = MESSAGES_BURST
        self._allowed_at = 0.0

    def may_speak(self, now_s: float) -> bool:
        """Whether one more message is within what a person and a page can produce."""
        self._allowance = min(MESSAGES_BURST, self._allowance + (now_s - self._allowed_at) * MESSAGES_PER_S)
        self._allowed_at = now_s
        if self._allowance < 1.0:
            return False
        self._allowance -= 1.0
        return True


class Audience:
    """Runs a session in real time and shows it to its pages."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.pages: dict[int, Page] = {}
        self.dropped = 0
        self.last_dropped = ""
        self._numbers = itertools.count(1)
        self._frame_number = 0
        self._frame_text = ""
        self._somebody = asyncio.Event()

    async def run(self) -> None:
        """Let the session live for as long as this task does."""
        loop = asyncio.get_running_loop()
        before = loop.time()
        due = heartbeat = 0.0
        while True:
            if not self.pages:
                self._somebody.clear()
                await self._somebody.wait()
                before = loop.time()
            await asyncio.sleep(LOOK_S)
            now = loop.time()
            news = self.session.advance(now - before)
            before = now
            if news == AT_ONCE or (news != NOTHING_NEW and now >= due) or now >= heartbeat:
                self.show()
                due, heartbeat = now + FRAME_S, now + HEARTBEAT_S

    def show(self) -> None:
        """Make a frame of the present and wake every sender."""
        self._frame_number += 1
        self._frame_text = json.dumps(self.session.frame(), separators=(",", ":"))
        for page in self.pages.values():
            page.wake.set()

    async def welcome(self, websocket: WebSocket) -> None:
        """Serve one page until it goes."""
        if len(self.pages) >= PAGES_MAX:
            await websocket.close(TRY_LATER, f"{PAGES_MAX} pages are open already")
            return
        await websocket.accept()
        page = Page(websocket, next(self._numbers))
        await websocket.send_text(json.dumps({"hello": self.session.hello()}))
        self.pages[page.hand] = page
        self.session.alone(False)
        self._somebody.set()
        self.show()
        sender = asyncio.create_task(self._send(page))
        try:
            await self._listen(page)
        finally:
            sender.cancel()
            del self.pages[page.hand]
            self.session.leave(page.hand)
            self.session.alone(not self.pages)

    async def _listen(self, page: Page) -> None:
        loop = asyncio.get_running_loop()
        while True:
            event = await page.websocket.receive()
            if event["type"] == "websocket.disconnect":
                return
            if not page.may_speak(loop.time()):
                self._drop("too many messages")
                continue
            text = event.get("text")
            self.hear(text if isinstance(text, str) else "", page.hand)

    def hear(self, text: str, hand: int) -> None:
        """One message of a page; what is no deed is dropped and counted."""
        try:
            self.session.take(read(text), hand)
        except MessageError as error:
            self._drop(str(error))

    def _drop(self, words: str) -> None:
        self.dropped += 1
        self.last_dropped = words

    async def _send(self, page: Page) -> None:
        """Always the newest frame, never a queue of them."""
        while True:
            await page.wake.wait()
            page.wake.clear()
            text = self._message(page)
            try:
                await page.websocket.send_text(text)
            except (WebSocketDisconnect, RuntimeError):
                return

    def _message(self, page: Page) -> str:
        if page.frame_number:
            page.missed += self._frame_number - page.frame_number - 1
        page.frame_number = self._frame_number
        traces = self.session.traces
        is_fresh, rows = traces.since(page.epoch, page.total)
        page.epoch, page.total = traces.epoch, traces.total
        counts: dict[str, Any] = {
            "pages": len(self.pages),
            "dropped": self.dropped,
            "why_dropped": self.last_dropped,
            "missed": page.missed,
        }
        fresh = "true" if is_fresh else "false"
        return f'{{"frame":{self._frame_text},"fresh":{fresh},"rows":[{rows}],"counts":{json.dumps(counts)}}}'

    async def dismiss(self) -> None:
        """Close every page's connection."""
        for page in list(self.pages.values()):
            if page.websocket.application_state == WebSocketState.CONNECTED:
                await page.websocket.close(GOING_AWAY, "the panel has been closed")
