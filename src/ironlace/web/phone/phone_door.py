"""The phone's door: opened for one session at one address, and closed at once."""

import asyncio
import socket
import threading
from dataclasses import dataclass

import uvicorn

from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.web.bench import Bench
from ironlace.web.listening import listening_at
from ironlace.web.patience import PatientProtocol
from ironlace.web.phone.door_app import door_app
from ironlace.web.phone.house_network import check_address
from ironlace.web.phone.sessions import Session, Where

DEFAULT_PORT = 8766
"""Beside the bench's own. It is always the same unless told, since what waits on a phone waits
under this address."""
_LONGEST_S = 12 * 3600.0
"""A door that was forgotten closes by itself after half a day. A judgement."""
_TO_START_S = 10.0
"""Seconds within which a server that is bound already must answer."""
_TO_STOP_S = 20.0
"""Seconds to wait for a photograph that is just being examined; nothing of it is kept by then."""


class PhoneDoorError(IronlaceError):
    """The door cannot be opened where it was told to."""


class _Server(uvicorn.Server):
    """A server that can be ended from another thread, connections and all."""

    loop: asyncio.AbstractEventLoop | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        self.loop = asyncio.get_running_loop()
        await super().startup(sockets)

    def end_now(self) -> None:
        """Take no further connection, and break off those there are."""
        self.should_exit = self.force_exit = True
        if self.loop is not None and not self.loop.is_closed():
            self.loop.call_soon_threadsafe(self._break_off)

    def _break_off(self) -> None:
        for server in getattr(self, "servers", ()):
            server.close()
        for connection in list(self.server_state.connections):
            transport = getattr(connection, "transport", None)
            if transport is not None:
                transport.abort()


@dataclass
class _Open:
    """What belongs to an open door."""

    session: Session
    server: _Server
    thread: threading.Thread
    by_itself: threading.Timer


class PhoneDoor:
    """At most one open door for a workshop."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._lock = threading.RLock()
        self._open: _Open | None = None

    @property
    def session(self) -> Session | None:
        """The session as long as the door is open."""
        opened = self._open
        return opened.session if opened is not None else None

    def open(
        self,
        address: str,
        slug: str,
        *,
        port: int = DEFAULT_PORT,
        wanted: tuple[str, ...] = (),
        hand: str = "",
    ) -> Session:
        """Open the door for a machine; return its session, with a code that counts.

        Parameters
        ----------
        address
            One address of this computer in figures.
        port
            0 takes a free one.
        wanted
            Things to be read now, offered on the phone.
        hand
            Who is at the computer; it goes with each change.

        Raises
        ------
        ConflictError
            When it is open already.
        NotFoundError
            When there is no such machine.
        PhoneDoorError, HouseNetworkError
            When nothing can listen there.
        """
        with self._lock:
            if self._open is not None:
                raise ConflictError("The phone's door is open already: close it first.")
            title = self._bench.records.read(slug).title
            listening = _bound(check_address(address), port)
            at = listening.getsockname()
            session = Session(Where(str(at[0]), int(at[1])), self._bench.gate.secret, hand)
            session.work_for(slug, title, wanted)
            server = _server(session, self._bench)
            thread = threading.Thread(
                target=server.run, kwargs={"sockets": [listening]}, name="phone-door", daemon=True
            )
            by_itself = threading.Timer(_LONGEST_S, self.close)
            by_itself.daemon = True
            self._open = _Open(session, server, thread, by_itself)
            thread.start()
            by_itself.start()
            return session

    def close(self) -> None:
        """Close the door and end its session at once; a closed one stays closed."""
        with self._lock:
            opened, self._open = self._open, None
        if opened is None:
            return
        opened.session.end()  # from here on nothing is kept, even of what is on its way
        opened.by_itself.cancel()
        opened.server.end_now()
        if threading.current_thread() is not opened.thread:
            opened.thread.join(_TO_STOP_S)


def _server(session: Session, bench: Bench) -> _Server:
    return _Server(
        uvicorn.Config(
            door_app(session, bench),
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            lifespan="off",
            http=PatientProtocol,
            ws="none",
            timeout_keep_alive=5,
            timeout_graceful_shutdown=1,
            limit_concurrency=32,
        )
    )


def _bound(address: str, port: int) -> socket.socket:
    try:
        return listening_at(address, port, 32)
    except (OSError, OverflowError) as error:
        raise PhoneDoorError(
            f"Nothing can listen at {address}, port {port} ({error}): give an address of this "
            "computer, and a port that is free."
        ) from error
