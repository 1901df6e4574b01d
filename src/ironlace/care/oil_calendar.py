"""The days on which oil is due as a calendar file (iCalendar, RFC 5545)."""

import hashlib
from collections.abc import Sequence
from datetime import datetime, timedelta

from ironlace.care.oil_plan import PointDue

_FOLD_OCTETS = 75
"""Of a content line, without its line break (RFC 5545, 3.1)."""


def oil_calendar(points: Sequence[PointDue], made: datetime, machine: str = "") -> str:
    """All-day events on the days on which oil is due, as the text of a .ics file.

    Parameters
    ----------
    points
        What is due.
    made
        When this is written, in UTC.
    machine
        Stands in each event's words, if given.

    Returns
    -------
    str
        Lines ended by CR LF, folded at 75 octets. An event keeps its UID when the plan is written
        again from the same last oiling, so that a calendar updates it and does not double it.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Ironlace//Oiling plan//EN"]
    for one in points:
        lines += _event(one, made, machine)
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _event(one: PointDue, made: datetime, machine: str) -> list[str]:
    point = one.point
    identity = f"{machine}\n{point.name}\n{point.last}"
    told = hashlib.sha256(identity.encode()).hexdigest()[:32]
    drops = f"{point.drops} drop{'s' * (point.drops != 1)}"
    of = f" of {machine}" if machine else ""
    first = "months" if one.due_by == "months" else "hours of sewing"
    return [
        "BEGIN:VEVENT",
        f"UID:{told}@ironlace.invalid",
        f"DTSTAMP:{made:%Y%m%dT%H%M%SZ}",
        f"DTSTART;VALUE=DATE:{one.due.isoformat().replace(chr(45), '')}",
        f"DTEND;VALUE=DATE:{_compact(one)}",
        f"SUMMARY:{_escaped(f'Oil {point.name}{of}: {drops}')}",
        f"DESCRIPTION:{_escaped(f'Last oiled {point.last}; due by {first}. Wipe off the excess.')}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _compact(one: PointDue) -> str:
    """The day after, which an all-day event ends before."""
    return (one.due + timedelta(days=1)).isoformat().replace("-", "")


def _escaped(text: str) -> str:
    r"""TEXT of RFC 5545, 3.3.11.

    >>> _escaped("cup; left, 2\nfelt")
    'cup\\; left\\, 2\\nfelt'
    """
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(c for c in plain if c in "\n\t" or (ord(c) >= 32 and ord(c) != 127))
    kept = kept.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return kept.replace("\n", "\\n")


def _folded(line: str) -> str:
    """A line in pieces of at most 75 octets, none of which parts a character."""
    pieces, piece, octets = [], "", 0
    for char in line:
        size = len(char.encode("utf-8"))
        if octets + size > _FOLD_OCTETS:
            pieces.append(piece)
            piece, octets = " ", 1
        piece += char
        octets += size
    return "\r\n".join([*pieces, piece])
