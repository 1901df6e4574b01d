"""A socket that listens: for the bench, and for the phone's door."""

import socket
import sys


def listening_at(host: str, port: int, waiting: int) -> socket.socket:
    """A socket bound to an address of this computer; 0 takes any free port.

    Parameters
    ----------
    waiting
        How many connections may wait to be taken.

    Raises
    ------
    OSError, OverflowError
        When the address or the port cannot be had; nothing is left open then.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would let two programs share a port
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen(waiting)
    except BaseException:
        listening.close()
        raise
    return listening
