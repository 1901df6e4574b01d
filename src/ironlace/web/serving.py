"""Running the bench: on loopback unless told, on a free port, with its address printed."""

import socket
import sys
import threading
import webbrowser
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from ironlace.evidence.errors import IronlaceError
from ironlace.web import addresses
from ironlace.web.app import create_app
from ironlace.web.listening import listening_at
from ironlace.web.patience import PatientProtocol
from ironlace.web.phone.phone_door import DEFAULT_PORT, PhoneDoor
from ironlace.web.phone.sessions import Session


class ServeError(IronlaceError):
    """The bench cannot listen where it was told to."""


@dataclass(frozen=True, slots=True)
class PhoneAsked:
    """That the phone's door is to be opened from the start: at which address, for which machine."""

    address: str
    slug: str
    port: int | None = None


def serve(
    folder: Path,
    host: str = "127.0.0.1",
    port: int = 8765,
    *,
    open_browser: bool = True,
    foreman: bool = True,
    phone: PhoneAsked | None = None,
) -> None:
    """Serve a workshop until interrupted.

    Parameters
    ----------
    port
        Tried first; when it is in use a free one is taken. 0 takes a free one at once.
    phone
        Given, a door for one phone is opened beside it; the bench itself stays where it is.

    Raises
    ------
    ServeError
        When nothing can be bound at that host.
    PhoneDoorError, HouseNetworkError
        When the phone's door cannot be opened where it was told to.
    """
    listening = _bound(host, port)
    at = int(listening.getsockname()[1])
    app = create_app(folder, foreman=foreman, host=host, port=at)
    shown = f"[{host}]" if ":" in host else host
    if host in ("0.0.0.0", "::"):  # noqa: S104  (only when told so)
        shown = socket.gethostname()
    address = f"http://{shown}:{at}/"
    sys.stdout.write(f"Ironlace is at {address}  (Ctrl+C ends it)\n")
    if phone is not None:
        session = _opened(app, phone)
        address = f"{address.rstrip('/')}{addresses.phone()}"
        sys.stdout.write(_door_in_words(session, address))
    sys.stdout.flush()
    if open_browser:
        threading.Timer(0.6, webbrowser.open, (address,)).start()
    config = uvicorn.Config(
        app,
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=3,
        http=PatientProtocol,
        ws="none",
    )
    uvicorn.Server(config).run(sockets=[listening])


def _opened(app: FastAPI, phone: PhoneAsked) -> Session:
    door = app.state.door
    assert isinstance(door, PhoneDoor)
    port = DEFAULT_PORT if phone.port is None else phone.port
    try:
        return door.open(phone.address, phone.slug, port=port)
    except BaseException:
        app.state.bench.workshop.close()
        raise


def _door_in_words(session: Session, page: str) -> str:
    code = session.pairing.code or ""
    return (
        f"The phone's door is open at {session.where.url} for {session.work.title}: one phone on "
        "that network can take photographs and readings in, and sees nothing else. It is not "
        "encrypted; use it on a network you trust.\n"
        f"The phone's code is {code[:4]} {code[4:]}, for ten minutes; {page} shows it, and closes "
        "the door.\n"
    )


def _bound(host: str, port: int) -> socket.socket:
    failed: OSError | None = None
    for wanted in dict.fromkeys((port, 0)):
        try:
            return listening_at(host, wanted, 128)
        except OSError as error:
            failed = error
    raise ServeError(
        f"Nothing can listen at {host} ({failed}): use 127.0.0.1, or an address of this computer."
    )
