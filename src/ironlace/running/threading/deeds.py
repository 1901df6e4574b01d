"""What a thread does at a point, in the words of the trade, and from which side it does it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ironlace.evidence.grades import Grade

Thread = Literal["needle", "shuttle"]
THREADS: Mapping[Thread, str] = {
    "needle": "the needle thread, from the spool to the needle",
    "shuttle": "the shuttle thread, from the bobbin to the needle plate",
}
"""The two threads of a lockstitch, with their ends."""

_FROM = {
    "left": "from the left",
    "right": "from the right",
    "top": "from above",
    "bottom": "from below",
    "front": "from the front",
    "back": "from the back",
}
_ROUND = {
    "left": "round the left of",
    "right": "round the right of",
    "top": "over the top of",
    "bottom": "round the underside of",
    "front": "round the front of",
    "back": "round the back of",
}
_ROUND_UNSAID = "round"
_OFF = {
    "top": "the thread coming off the top",
    "bottom": "the thread coming off the bottom",
    "front": "the thread coming off the front",
    "back": "the thread coming off the back",
    "left": "the thread coming off the left",
    "right": "the thread coming off the right",
}


@dataclass(frozen=True, slots=True)
class Deed:
    """One thing that a thread does at a point.

    Attributes
    ----------
    verb, noun
        How it is told: verb, then the thing, which the user may name otherwise.
    sides
        The sides it may be done from or round, and how each is told; empty when a side means
        nothing.
    before
        Whether the side is told in the verb's place (``round the left of``).
    """

    verb: str
    noun: str
    sides: Mapping[str, str]
    before: bool = False


DEEDS: Mapping[str, Deed] = {
    "spool": Deed("from", "the spool", _OFF),
    "guide hole": Deed("through", "the guide hole", _FROM),
    "slot": Deed("into", "the slot", _FROM),
    "hook": Deed("into", "the hook", _FROM),
    "wire": Deed(_ROUND_UNSAID, "the wire", _ROUND, before=True),
    "pin": Deed(_ROUND_UNSAID, "the pin", _ROUND, before=True),
    "discs": Deed("between", "the tension discs", _FROM),
    "check spring": Deed("into", "the check spring", _FROM),
    "take-up eye": Deed("through", "the eye of the take-up", _FROM),
    "needle eye": Deed("through", "the eye of the needle", _FROM),
    "bobbin": Deed("put", "the bobbin", _OFF),
    "shuttle hole": Deed(
        "through",
        "the hole of the shuttle",
        {"inside": "from inside outwards", "outside": "from outside inwards"},
    ),
    "shuttle slot": Deed("into", "the slot of the shuttle", _FROM),
    "shuttle spring": Deed("under", "the spring of the shuttle", _FROM),
    "keeper": Deed("close", "the keeper", {}),
    "needle plate": Deed("up through", "the hole of the needle plate", {}),
}
"""What a thread does, by the word that a plan uses."""

SIDE_LABELS: Mapping[str, str] = {
    "left": "left",
    "right": "right",
    "top": "top, or from above",
    "bottom": "bottom, or from below",
    "front": "front",
    "back": "back",
    "inside": "from inside outwards",
    "outside": "from outside inwards",
}
"""Every side, as a form offers it."""

CROSSES: Mapping[str, str] = {"over": "over", "under": "under"}
"""How a stretch of thread passes those that were laid before it."""


@dataclass(frozen=True, slots=True)
class Knowing:
    """How a step is known: how that is told, its grade, whether it must name its source."""

    told: str
    grade: Grade
    source_needed: str = ""


KNOWN: Mapping[str, Knowing] = {
    "old manual": Knowing(
        "an old manual", Grade.INFERRED, "name the manual and its page, and of which machine"
    ),
    "seen": Knowing("seen on this machine", Grade.SEEN),
    "seam": Knowing(
        "worked, measured by a seam", Grade.MEASURED, "name the seam that was measured"
    ),
    "guess": Knowing("a guess", Grade.CONJECTURED),
}
"""How a step can be known. A manual speaks of the kind of machine, not of this one: inferred."""
