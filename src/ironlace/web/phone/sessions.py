"""One session of the phone's door: where it is, for which machine, who is joined, what has come."""

import hmac
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from threading import Lock

from ironlace.evidence.errors import ConflictError
from ironlace.web.phone.called_motion import Calling
from ironlace.web.phone.pairing import Pairing, PairingError

WANTED_AT_MOST = 40
"""Things to read that are offered on the phone: more is a list nobody scrolls with oily hands."""


@dataclass(frozen=True, slots=True)
class Where:
    """The one address and port at which the door is."""

    address: str
    port: int

    @property
    def host(self) -> str:
        """As a browser names it in its Host header."""
        shown = f"[{self.address}]" if ":" in self.address else self.address
        return shown if self.port == 80 else f"{shown}:{self.port}"

    @property
    def url(self) -> str:
        """As it is typed into the phone."""
        return f"http://{self.host}/"


@dataclass(frozen=True, slots=True)
class Work:
    """What the phone is told: for which machine it works, and what is to be read now.

    `key` stands for workshop and machine, so that what waits on a phone from another day never
    gets into another machine's record.
    """

    key: str
    slug: str
    title: str
    wanted: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Arrival:
    """An entry that came by the phone."""

    slug: str
    name: str
    at: datetime


class Session:
    """From the opening of the door to its closing. Safe to use from many threads."""

    def __init__(self, where: Where, secret: bytes, hand: str) -> None:
        self.where = where
        self.hand = hand
        self.pairing = Pairing()
        self.opened_at = datetime.now(UTC)
        self._secret = secret
        self._lock = Lock()
        self._slugs: dict[str, str] = {}
        self._work: Work | None = None
        self._arrived: list[Arrival] = []
        self._motion: tuple[str, Calling] | None = None
        self._ended = False

    @property
    def ended(self) -> bool:
        """Whether the door was closed."""
        return self._ended

    @property
    def work(self) -> Work:
        """What the phone works for now."""
        assert self._work is not None
        return self._work

    @property
    def arrived(self) -> list[Arrival]:
        """What came, the latest first."""
        with self._lock:
            return self._arrived[::-1]

    def work_for(self, slug: str, title: str, wanted: tuple[str, ...]) -> None:
        """Turn to a machine; what was taken for the ones before is still accepted."""
        key = hmac.new(self._secret, b"phone\0" + slug.encode(), sha256).hexdigest()[:24]
        with self._lock:
            self._slugs[key] = slug
            self._work = Work(key, slug, title, wanted[:WANTED_AT_MOST])

    def call_motion(self, slug: str, calling: Calling) -> None:
        """Let the phone call out motion readings of a machine, or note how far it has come."""
        with self._lock:
            self._motion = slug, calling

    @property
    def motion(self) -> Calling | None:
        """What motion readings the phone calls out for the machine it works for, if any."""
        with self._lock:
            if self._motion is None or self._work is None or self._motion[0] != self._work.slug:
                return None
            return self._motion[1]

    def slug_of(self, key: str) -> str:
        """The machine that something was taken for.

        Raises ConflictError when the door was not opened for it in this session.
        """
        with self._lock:
            slug = self._slugs.get(key)
        if slug is None:
            raise ConflictError(
                "This was taken for another machine or workshop than the door is open for: turn "
                "to that one on the computer, or say here that it belongs to this one."
            )
        return slug

    def welcome(self, token: str) -> None:
        """Raise PairingError unless the door is open and a token is that of the joined phone."""
        if self._ended or not self.pairing.admits(token):
            raise PairingError(
                "This phone is not joined, or no longer: open this page again and type the code "
                "from the computer's screen. What waits here is kept.",
                401,
            )

    def came(self, slug: str, name: str) -> None:
        """Note an arrival; the same one again is no second one."""
        with self._lock:
            if all((one.slug, one.name) != (slug, name) for one in self._arrived):
                self._arrived.append(Arrival(slug, name, datetime.now(UTC)))

    def end(self) -> None:
        """End it for good."""
        self._ended = True
        self.pairing.end()
