"""Running the bench: on loopback unless told, on a free port, with its address printed."""

import socket
import sys
import threading
import webbrowser
from pathlib import Path

import uvicorn

from ironlace.evidence.errors import IronlaceError
from ironlace.web.app import create_app


class ServeError(IronlaceError):
    """The bench cannot listen where it was told to."""


def serve(
    folder: Path,
    host: str = "127.0.0.1",
    port: int = 8765,
    *,
    open_browser: bool = True,
    foreman: bool = True,
) -> None:
    """Serve a workshop until interrupted.

    Parameters
    ----------
    port
        Tried first; when it is in use a free one is taken. 0 takes a free one at once.

    Raises
    ------
    ServeError
        When nothing can be bound at that host.
    """
    listening = _bound(host, port)
    at = int(listening.getsockname()[1])
    app = create_app(folder, foreman=foreman, host=host, port=at)
    shown = f"[{host}]" if ":" in host else host
    if host in ("0.0.0.0", "::"):  # noqa: S104  (only when told so)
        shown = socket.gethostname()
    address = f"http://{shown}:{at}/"
    sys.stdout.write(f"Ironlace is at {address}  (Ctrl+C ends it)\n")
    sys.stdout.flush()
    if open_browser:
        threading.Timer(0.6, webbrowser.open, (address,)).start()
    config = uvicorn.Config(
        app,
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=3,
        ws="none",
    )
    uvicorn.Server(config).run(sockets=[listening])


def _bound(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    failed: OSError | None = None
    for wanted in dict.fromkeys((port, 0)):
        listening = socket.socket(family, socket.SOCK_STREAM)
        if sys.platform != "win32":  # there it would let two programs share a port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, wanted))
            listening.listen(128)
            return listening
        except OSError as error:
            listening.close()
            failed = error
    raise ServeError(
        f"Nothing can listen at {host} ({failed}): use 127.0.0.1, or an address of this computer."
    )
