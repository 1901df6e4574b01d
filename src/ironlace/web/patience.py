"""How long a connection may take to ask for something."""

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEADERS_S = 30.0
"""Time for the head of a request: a browser sends it at once. A judgement."""


class PatientProtocol(H11Protocol):
    """HTTP as uvicorn speaks it, but a connection that asks for nothing is closed after a while.

    Without it, one that stops within the head of its request stands open for ever.
    """

    headers_s = HEADERS_S
    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a request."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take what came; what is no whole head yet does not lengthen the wait."""
        super().data_received(data)
        if self._asks():
            self._wait_no_more()
        elif self._waiting is None:
            self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._wait_no_more()
        super().connection_lost(exc)

    def _asks(self) -> bool:
        """Whether a request is being answered."""
        cycle: Any = self.cycle
        return cycle is not None and not cycle.response_complete

    def _wait(self) -> None:
        self._waiting = self.loop.call_later(self.headers_s, self._give_up)

    def _wait_no_more(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _give_up(self) -> None:
        self._waiting = None
        if not self._asks() and not self.transport.is_closing():
            self.transport.close()
