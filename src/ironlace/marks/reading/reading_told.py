"""A reading told: in sentences, as a file for scripts, as a mark with all its doubts."""

import csv
import io
from dataclasses import dataclass
from typing import Any

import numpy as np

from ironlace.evidence.markings import DOT
from ironlace.marks.errors import MarksError
from ironlace.marks.reading.places import rows_by_heading
from ironlace.marks.reading.read_marks import DigitRead, Interval, MarksRead
from ironlace.marks.reading.strings import (
    RowShared,
    RowStrings,
    apart,
    strings_in_play,
    strings_of,
)

USUAL_DIGIT_MM = 2.4
"""Height of a serial digit on machines of the period, taken where the picture has no scale."""
_LEFT_OUT = 0.02
"""A glyph less probable than this is left out of the mark's doubts (its string may still show)."""
_MANY = 5
"""Glyphs that may stand in one place; where more may, it is unread."""
_SURE = 0.98
"""A dot more probable than this, or less than the rest, is no doubt of the mark."""
_FEW = 6
"""Strings kept with a finding."""
_TOLD, _TOLD_ENOUGH = 200, 0.99
"""Strings told beside a report, until they hold so much: six gaps of which nothing is known and a
figure in doubt need some hundred; the file of the reading holds more."""
_KEPT = 60
"""Strings of a row kept with a finding for the survey; what they leave is in doubt there."""
FACE_HELD = 0.5
"""Share of what is struck that figures laid must hold for the face to pass for one like them: of
17 made plates of faces near our cuts 0.60 at least, of open letters and a script 0.26 and 0.32
(`bench/README.md`)."""
_EDGE = 1e-9
"""No chance of a dot is nearer to nought or one when its odds are taken."""


@dataclass(frozen=True, slots=True)
class Found:
    """A reading, and from what it was made."""

    read: MarksRead
    source: str
    scale_known: bool
    searched: bool

    def as_dict(self) -> dict[str, Any]:
        """As its file holds it."""
        return marks_as_json(self.read, source=self.source, scale_known=self.scale_known)

    def sentences(self) -> list[str]:
        """What was found, in a few lines."""
        plate = self.read.plate
        said = list(self.read.remarks)
        for row in self.read.strings:
            best = row.hypotheses[0]
            alike = strings_in_play(self.read.rows[row.row], np.random.default_rng(row.row))
            said.append(
                f"Row {row.row + 1} from the top: {best.text}, {best.p:.1%}; in doubt as among "
                f"{alike:,.0f} equally likely strings; {len(row.hypotheses)} told hold "
                f"{1 - row.rest_p:.0%}."
            )
        unsure = sum(0.05 < g.p_struck < 0.9 for g in self.read.gaps)
        if self.read.gaps:
            said.append(
                f"{len(self.read.gaps)} gaps: {unsure} cannot be told for sure from pits; base "
                f"rate {plate.base_rate:.2f}{'' if plate.base_rate_given else ' (by the plate)'}."
            )
        pits = abs(max(plate.pits_per_mm2, 0.0))  # a nought without a sign
        said.append(
            f"Worn {plate.wear.value:.0%} ({plate.wear.low:.0%} to {plate.wear.high:.0%}), about "
            f"{pits:.1f} pits a square millimetre; inferred from {self.source}."
        )
        if plate.outside_tuning > 0:
            said.append(
                "The plate looks unlike those the judges were tuned on (by "
                f"{plate.outside_tuning:.2f} of their range): chances are drawn to the middle."
            )
        if plate.face_held is not None and plate.face_held < FACE_HELD:
            said.append(
                f"Of what is struck the figures laid hold {plate.face_held:.0%}; of faces like "
                "them they hold half and more: the face is unlike them, and chances are drawn to "
                "the middle."
            )
        if not self.scale_known:
            said.append(f"No scale: digits were taken to be {USUAL_DIGIT_MM} mm high.")
        if self.searched:
            said.append("Places were searched: look whether each digit and gap has one.")
        return said

    def mark_of(self, row: int) -> str:
        """A row as the survey takes it, with all its doubts; no string is chosen."""
        digits = sorted(
            (d for d in self.read.digits if d.place.row == row), key=lambda d: d.place.index
        )
        dots = {g.place.index: g.p_struck for g in self.read.gaps if g.place.row == row}
        return "".join(_glyph(d) + _dot(dots.get(d.place.index, 0.0)) for d in digits)

    def strings_of(self, row: RowStrings) -> str:
        """A row's likeliest strings with their chances, and what is left to all others."""
        told = row.hypotheses[:_FEW]
        rest = max(1.0 - sum(one.p for one in told), 0.0)
        return ", ".join([*(f"{one.text} {one.p:.3f}" for one in told), f"all others {rest:.3f}"])

    def by_the_metal_alone(self, row: RowStrings, most: int = _TOLD) -> RowStrings:
        """A row's strings were a dot as likely as none at each gap beforehand.

        How common dots are is for whoever weighs the reading to say: the survey's theories do.
        With the plate's own rate in the chances, gaps of which nothing can be seen would speak
        against every theory that has dots.
        """
        rate = self.read.plate.base_rate
        common = (1.0 - rate) / rate if 0.0 < rate < 1.0 else 1.0
        shared = self.read.rows[row.row]
        struck = [_without_rate(p, common) if p else p for p in shared.dots.each()[:, 1].tolist()]
        alone = apart(np.array([(1.0 - p, p) for p in struck]))
        return strings_of(
            row.row,
            RowShared(shared.glyphs, shared.digits, alone),
            enough=_TOLD_ENOUGH,
            most=most,
        )

    def for_the_survey(self, row: RowStrings, most: int = _KEPT) -> str:
        """A row's strings with their chances by the metal alone, as the survey reads them."""
        told = self.by_the_metal_alone(row, most).hypotheses
        return "; ".join(f"{h.text} {h.p:.4g}" for h in told)

    def report_csv(self) -> str:
        """Reports for the survey: each row's mark with its doubts, and its strings with chances.

        No string is chosen: every glyph that may stand there is among the mark's choices, and a
        dot that may be a pit stands in brackets.
        """
        out = io.StringIO()
        table = csv.writer(out, lineterminator="\n")
        table.writerow(["id", "mark", "seen", "note", "strings", "rest_p"])
        for row in self.read.strings:
            mark = self.mark_of(row.row)
            strings = self.for_the_survey(row, _TOLD)
            rest = self.by_the_metal_alone(row).rest_p
            note = f"Read by the program from {self.source} (inferred)"
            table.writerow([f"row {row.row}", mark, "photograph", note, strings, f"{rest:.4f}"])
        return out.getvalue()


def _without_rate(p: float, common: float) -> float:
    """Chance of a dot with the odds that a rate lent it taken out.

    >>> round(_without_rate(0.1, 9.0), 6)
    0.5
    """
    p = min(max(p, _EDGE), 1.0 - _EDGE)
    odds = p / (1.0 - p) * common
    return odds / (1.0 + odds)


def _glyph(digit: DigitRead) -> str:
    may = [g for g, p in sorted(digit.p.items(), key=lambda one: -one[1]) if p > _LEFT_OUT]
    if len(may) == 1:
        return may[0]
    return "?" if not may or len(may) > _MANY else f"[{''.join(may)}]"


def _dot(p: float) -> str:
    if p < 1 - _SURE:
        return ""
    return DOT if p > _SURE else f"({DOT})"


def marks_as_json(read: MarksRead, *, source: str, scale_known: bool) -> dict[str, Any]:
    """What was read as its file holds it."""
    return {
        "grade": "inferred",
        "source": source,
        "scale_known": scale_known,
        "digits": [
            {
                "row": d.place.row,
                "index": d.place.index,
                "x_px": d.place.x_px,
                "y_px": d.place.y_px,
                "height_mm": round(d.height_mm, 4),
                "depth_mm": round(d.depth_mm, 5),
                "p": {glyph: round(p, 6) for glyph, p in d.p.items()},
            }
            for d in read.digits
        ],
        "gaps": [
            {
                "row": g.place.row,
                "index": g.place.index,
                "x_px": round(g.x_px, 2),
                "y_px": round(g.y_px, 2),
                "p_struck": round(g.p_struck, 6),
                "depth_mm": _interval(g.depth_mm),
                "diameter_mm": g.diameter_mm,
            }
            for g in read.gaps
        ],
        "strings": [
            {
                "row": row.row,
                "hypotheses": [{"text": h.text, "p": h.p} for h in row.hypotheses],
                "rest_p": row.rest_p,
            }
            for row in read.strings
        ],
        "plate": {
            "wear": round(read.plate.wear.value, 3),
            "wear_low": round(read.plate.wear.low, 3),
            "wear_high": round(read.plate.wear.high, 3),
            "pits_per_mm2": round(read.plate.pits_per_mm2, 3),
            "base_rate": round(read.plate.base_rate, 4),
            "base_rate_given": read.plate.base_rate_given,
            "outside_tuning": round(read.plate.outside_tuning, 3),
            "face_held": None if read.plate.face_held is None else round(read.plate.face_held, 3),
        },
        "remarks": list(read.remarks),
    }


def _interval(found: Interval) -> dict[str, float]:
    return {
        "value": round(found.value, 5),
        "low": round(found.low, 5),
        "high": round(found.high, 5),
    }


def digit_px_in(places: str) -> float | None:
    """Median height of the digits of a table of places, pixels; None where none is told."""
    tall = []
    try:
        rows = rows_by_heading(places, "table of places")[1]
    except MarksError:
        return None  # whoever reads the table says what is wrong with it
    for _, cells in rows:
        try:
            if cells.get("kind", "").lower() == "digit":
                tall.append(float(cells["height_px"]))
        except (KeyError, ValueError):
            return None
    return sorted(tall)[len(tall) // 2] if tall else None
