"""One phone joined to one session: a code typed once, then a token that only that phone holds."""

import hmac
import re
import secrets
import time
from collections.abc import Callable
from enum import Enum
from hashlib import sha256
from threading import Lock

from ironlace.evidence.errors import IronlaceError

CODE_SIGNS = "ACDEFGHJKMNPQRTWXY34679"
"""No two of them look or sound alike on a screen across the room: no 0 O, 1 I L, 2 Z, 5 S, 8 B,
U V."""
CODE_LENGTH = 8
"""Signs of a code: 23 to the 8th is 8 x 10^10, of which a stranger may try five."""
CODE_LASTS_S = 600.0
"""Ten minutes: to fetch the phone and wipe one's hands. A judgement."""
TRIES = 5
"""Wrong codes before a code no longer counts, whoever typed them."""


class PairingError(IronlaceError):
    """A phone is not let in."""

    def __init__(self, says: str, status: int) -> None:
        super().__init__(says)
        self.http_status = status


class PairingState(Enum):
    """How far the joining of a phone has come."""

    CODE_SHOWN = "a code is shown and counts"
    CODE_OLD = "the code is older than ten minutes"
    CODE_LOCKED = "five wrong codes were tried"
    JOINED = "a phone is joined"
    CHANGING = "a phone is joined, and a code is shown for another"
    ENDED = "the session has ended"


class Pairing:
    """The one place that knows the code and whose token counts. Safe to use from many threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._code = ""
        self._code_made = 0.0
        self._wrong = 0
        self._token_digest = b""
        self._ended = False
        self.new_code()

    def new_code(self) -> str:
        """Show a new code; the one before no longer counts.

        A phone that is joined stays so until another has typed the new one.
        """
        with self._lock:
            self._code = "".join(secrets.choice(CODE_SIGNS) for _ in range(CODE_LENGTH))
            self._code_made = self._clock()
            self._wrong = 0
            return self._code

    @property
    def state(self) -> PairingState:
        """How far it has come."""
        with self._lock:
            return self._state()

    @property
    def code(self) -> str | None:
        """The code as long as it counts."""
        with self._lock:
            counts = self._state() in (PairingState.CODE_SHOWN, PairingState.CHANGING)
            return self._code if counts else None

    @property
    def minutes_left(self) -> int:
        """Whole minutes, begun ones counted, for which the code still counts."""
        with self._lock:
            left = self._code_made + CODE_LASTS_S - self._clock()
            return max(0, -int(-left // 60))

    def join(self, typed: str) -> str:
        """Let a phone in by the code; return its token. The code is then used up.

        Raises
        ------
        PairingError
            When the code is wrong, old or used up, or was tried too often.
        """
        code = re.sub(r"[\s\-–.]", "", typed).upper()
        with self._lock:
            state = self._state()
            if state not in (PairingState.CODE_SHOWN, PairingState.CHANGING):
                raise PairingError(_NOT_NOW[state], 429 if self._wrong >= TRIES else 409)
            if len(code) != CODE_LENGTH or not set(code) <= set(CODE_SIGNS):
                # no guess at it: a slip of the finger is not held against anyone
                raise PairingError(
                    f"A code has {CODE_LENGTH} letters and figures, without 0, 1, 2, 5, 8 and "
                    "without B, I, L, O, S, U, V, Z: read it again on the computer's screen.",
                    422,
                )
            if not hmac.compare_digest(code.encode(), self._code.encode()):
                self._wrong += 1
                left = TRIES - self._wrong
                if not left:
                    raise PairingError(_NOT_NOW[PairingState.CODE_LOCKED], 429)
                tries = "1 try" if left == 1 else f"{left} tries"
                raise PairingError(
                    f"That is not the code on the computer's screen: read it again ({tries} left).",
                    403,
                )
            token = secrets.token_urlsafe(32)
            self._token_digest = sha256(token.encode()).digest()
            self._code = ""
            return token

    def admits(self, token: str) -> bool:
        """Whether a token is that of the phone that is joined."""
        digest = sha256(token.encode()).digest()
        with self._lock:
            held = self._token_digest
            return not self._ended and bool(held) and hmac.compare_digest(digest, held)

    def part(self, token: str) -> None:
        """Let the phone go that holds a token; a new code is needed then."""
        digest = sha256(token.encode()).digest()
        with self._lock:
            if hmac.compare_digest(digest, self._token_digest):
                self._token_digest = b""

    def end(self) -> None:
        """End it for good: no token counts any longer, nor any code."""
        with self._lock:
            self._ended = True
            self._code, self._token_digest = "", b""

    def _state(self) -> PairingState:
        if self._ended:
            return PairingState.ENDED
        shown = bool(self._code) and self._wrong < TRIES
        counts = shown and self._clock() - self._code_made < CODE_LASTS_S
        if self._token_digest:
            return PairingState.CHANGING if counts else PairingState.JOINED
        if counts:
            return PairingState.CODE_SHOWN
        return PairingState.CODE_LOCKED if self._wrong >= TRIES else PairingState.CODE_OLD


_NOT_NOW = {
    PairingState.CODE_OLD: "That code no longer counts: have the computer show a new one.",
    PairingState.CODE_LOCKED: (
        "Five wrong codes were tried, so this code no longer counts: have the computer show a "
        "new one."
    ),
    PairingState.JOINED: (
        "Another phone is joined, and only one can be: to use this one instead, press 'Another "
        "phone instead' on the computer and type the code that it shows."
    ),
    PairingState.ENDED: "The door is closed: open it again on the computer.",
}
