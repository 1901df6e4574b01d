"""Who may write: the visitor's cookie, the token that goes with it, and the hosts answered to."""

import hmac
import ipaddress
import os
import re
import secrets
import socket
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from ironlace.evidence.errors import IronlaceError

TOKEN_FIELD = "token"  # noqa: S105  (the name of a form field)
TOKEN_HEADER = "x-ironlace-token"  # noqa: S105
_VISITOR = re.compile(r"[0-9a-f]{32}\Z")
_LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})


class NotOursError(IronlaceError):
    """A request did not come from a page of this bench."""

    http_status = 403


@dataclass(frozen=True)
class Gate:
    """Decides what is let in.

    A page of another site can make a browser send a request here, and can point its own name at
    this machine; so a write must carry a token that only our pages hold, and a request must name a
    host that is ours. An address in figures cannot be pointed elsewhere by anyone, so when the
    bench listens beyond loopback, those are answered to as well.
    """

    secret: bytes
    hosts: frozenset[str]
    open_to_addresses: bool

    @classmethod
    def of(cls, folder: Path, host: str) -> "Gate":
        """Make the gate of a workshop whose derived folder and listening host are given."""
        loopback = host in _LOOPBACK_NAMES
        hosts = set(_LOOPBACK_NAMES)
        if not loopback:
            hosts |= {host.lower(), socket.gethostname().lower()}
        return cls(_secret(folder / "web" / "secret"), frozenset(hosts), not loopback)

    @property
    def cookie(self) -> str:
        """Name of the cookie: one for each workshop, since browsers share them between ports."""
        return f"ironlace-{sha256(self.secret).hexdigest()[:12]}"

    @property
    def hand_cookie(self) -> str:
        """Name of the cookie that holds the name which goes with each change."""
        return f"{self.cookie}-hand"

    def answers_to(self, host_header: str) -> bool:
        """Whether a Host header names this bench."""
        name = host_header.strip().lower()
        name = name[1:].partition("]")[0] if name.startswith("[") else name.partition(":")[0]
        if name in self.hosts:
            return True
        if self.open_to_addresses:
            with suppress(ValueError):
                ipaddress.ip_address(name)
                return True
        return False

    @staticmethod
    def known_visitor(value: str | None) -> str | None:
        """The visitor that a cookie names, if it is well formed."""
        return value if value and _VISITOR.match(value) else None

    @staticmethod
    def new_visitor() -> str:
        """A visitor nobody can guess."""
        return secrets.token_hex(16)

    def token_for(self, visitor: str) -> str:
        """The token that this visitor's pages carry."""
        return hmac.new(self.secret, visitor.encode(), sha256).hexdigest()

    def admits(self, visitor: str, token: str) -> bool:
        """Whether a token is that visitor's."""
        return hmac.compare_digest(self.token_for(visitor).encode(), token.encode())


def _secret(place: Path) -> bytes:
    # kept between runs, so that a form left open over a restart can still be sent
    place.parent.mkdir(parents=True, exist_ok=True)
    with suppress(FileExistsError):
        handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(secrets.token_bytes(32))
    kept = place.read_bytes()
    if len(kept) != 32:  # a start broken off in the one moment it was written
        place.unlink()
        return _secret(place)
    return kept
