"""What may be chosen where an entry offers a choice.

Condition follows the framework of EN 16095:2012 (what is there, its state, the risk to it); kinds
of treatment follow the ICOM-CC resolution of 2008 (preventive, remedial, restoration). The words
are ours; neither text prescribes codes.
"""

from enum import StrEnum


class Topic(StrEnum):
    """What a statement of identity is about."""

    KIND = "kind of machine"
    MAKER = "maker"
    MODEL = "model"
    NAME = "name on the machine"
    PLACE = "place of making"
    MADE = "date of making"
    NUMBER_MADE = "number made"
    STITCH = "kind of stitch"
    SHUTTLE = "kind of shuttle"
    NEEDLE = "needle"
    DRIVE = "drive"
    FINISH = "finish and ornament"
    OTHER = "other"


class Technique(StrEnum):
    """How a mark was put on."""

    UNSAID = "not said"
    STRUCK = "struck"
    PUNCHED = "punched"
    CAST = "cast"
    ENGRAVED = "engraved"
    PAINTED = "painted or transferred"
    SCRATCHED = "scratched"


class Standing(StrEnum):
    """Whether a part belongs to the machine."""

    ORIGINAL = "original"
    REPLACEMENT = "replacement"
    ADDITION = "addition"
    UNKNOWN = "not known"
    MISSING = "missing"


class State(StrEnum):
    """The state a part is in."""

    SOUND = "sound"
    WORN = "worn but serviceable"
    DAMAGED = "damaged"
    UNSTABLE = "getting worse"
    UNKNOWN = "not examined"


class Risk(StrEnum):
    """How soon something must be done for a part."""

    UNJUDGED = "not judged"
    NONE = "none foreseen"
    WATCH = "watch it"
    SOON = "treat before use"
    NOW = "act now"


class Aim(StrEnum):
    """The aim of a treatment (ICOM-CC 2008), and what is not conservation but must be told."""

    PREVENTIVE = "preventive conservation"
    REMEDIAL = "remedial conservation"
    RESTORATION = "restoration"
    MECHANICAL = "setting and repair of the mechanism"
    EXAMINATION = "examination"
    FITTING = "fitting added"


class Undoing(StrEnum):
    """Whether a treatment can be undone."""

    FULLY = "can be undone"
    EFFORT = "can be undone with effort"
    NOT = "cannot be undone"
    NOTHING = "nothing to undo"


class Stage(StrEnum):
    """How far a treatment has come: what is intended is not done."""

    DONE = "done"
    INTENDED = "intended"


class PhotographRole(StrEnum):
    """What a photograph is for."""

    UNSAID = "not said"
    AS_FOUND = "as found"
    WHOLE = "whole machine"
    MARK = "mark"
    ORNAMENT = "ornament"
    PART = "part"
    BEFORE = "before treatment"
    AFTER = "after treatment"
    STITCH = "stitch-out"
    DOCUMENT = "document"


class Channel(StrEnum):
    """How a report of another machine reached us."""

    UNSAID = "not said"
    PHOTOGRAPH = "photograph seen"
    TOLD = "told"
    LISTING = "listing"
    HANDLED = "handled"


class Allowed(StrEnum):
    """What the owner of a reported machine allowed; unsaid, nothing of the owner is told."""

    UNSAID = "not said"
    COUNTED = "may be counted"
    PLACE = "may be published with its place"
    NAMED = "may be published with place and name"


class Verdict(StrEnum):
    """What a person decided on a report that was sent in; until then it waits and never counts."""

    WAITING = "waiting"
    KEPT = "kept"
    DOUBTED = "doubted"
    SECOND = "second sighting"
    TURNED_DOWN = "turned down"


class Naming(StrEnum):
    """How a sender wishes to be named; unsaid, they are not."""

    UNSAID = "not said"
    NAME = "by name"
    INITIALS = "by initials"
    NOT = "not named"


STEPS: dict[str, str] = {
    "take-in": "Take it in",
    "marks": "Read the marks",
    "identify": "Say what it is",
    "condition": "Note its condition",
    "date": "Date it",
    "running": "Get it sewing",
    "ornament": "Draw the ornament",
    "treat": "Treat, and keep the record",
    "tell": "Tell what is open, and hand it over",
}
"""The steps of the job by key, in their order."""

NOT_TOLD: tuple[StrEnum, ...] = (
    Technique.UNSAID,
    Risk.UNJUDGED,
    Channel.UNSAID,
    Allowed.UNSAID,
    Standing.UNKNOWN,
)
"""Choices that say that nothing was said; alone on a line they need the name of their field."""
