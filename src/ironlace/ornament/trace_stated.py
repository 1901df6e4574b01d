"""How near a trace lies to the paint's edge, as it is told: of what, and what is not in it.

The spread that a photograph's place, lens and blur give holds for outlines whose paint it shows.
It says nothing of what glare or a thing laid over hides, of outlines that nobody saw, or of sizes
that something else in the picture contradicts; so the figure never stands without what it is of.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from ironlace.evidence.grades import Grade
from ironlace.evidence.quantities import Measured
from ironlace.evidence.wording import listed
from ironlace.ornament.trace_limits import (
    GONE_GREY,
    LITTLE_TRACE,
    MUCH_SHADED,
    MUCH_TRACELESS,
    OTHER_PAINT,
    SHADED,
    Report,
    colour_spread,
    contradicted,
    hidden_shares,
    in_shadow_share,
    partly_dim,
    seems_cropped,
    traceless_share,
)
from ironlace.photographs.scale_beside import BY_HAND, LEAST_TOLD, SURE

TELLING_MM: Final = 0.005
"""Less than this is told as nothing."""
LEFT_OPEN: Final = 0.025
"""Share of the outline that may be unseen before nothing is told of all of it: half of the five in
a hundred that what is told leaves open."""
MOSTLY_UNSEEN: Final = 0.75
"""Share of the outline that is not graded seen from which no distance is told: what is left is too
little to speak for the rest. A judgement: 0.90 came of rust taken for gilt, and 12 % of what was
graded seen lay beyond 0.3 mm (`bench/ornament_path_traced.py`)."""
SHADOW_WIDENS: Final = 2.5
"""Times by which the distance told of what is drawn is widened where much lies in shadow. Of six
photographs with as much in shadow 95 % of what was drawn kept within 0.9 to 5.5 times the distance
without it, in three over twice (`bench/photographs_in_shadow.py`, seed 2). A judgement by these."""
HIDES: Final[dict[str, str]] = {
    "glare": "glare",
    "covered": "what lies over it",
    "outside the photograph": "the picture's edge",
    "too slanting": "the slant",
    "too dark": "the dark",
    SHADED: "a deep shadow",
    OTHER_PAINT: "being of another colour",
    GONE_GREY: "being grey",
}
"""What hides paint, by why it is not seen."""


@dataclass(frozen=True)
class Stated:
    """How near 95 of 100 places lie to the paint's edge, and what that is told of.

    Attributes
    ----------
    within_mm
        The distance; None where it is not told.
    of
        What it is told of.
    unseen
        Share of what is drawn that is not graded seen.
    hidden
        Shares of the work, by why, where paint may be hidden that no distance holds.
    why_not
        Why no distance is told; empty where one is.
    coarse
        Whether hairlines may be missing whose colour the picture has not kept.
    dim
        Whether fine lines may be missing where the gilt hardly shines.
    """

    within_mm: float | None
    of: str
    unseen: float = 0.0
    hidden: Mapping[str, float] = field(default_factory=dict)
    why_not: str = ""
    coarse: bool = False
    dim: bool = False

    def told(self) -> Report:
        """Plain values for JSON."""
        return {
            "within_mm": self.within_mm,
            "of": self.of,
            "unseen_share": self.unseen,
            "hidden_share": dict(self.hidden),
            "why_not": self.why_not,
            "coarse": self.coarse,
            "dim": self.dim,
        }


def stated(report: Report) -> Stated | None:
    """What a trace's report lets be told of how near its outlines lie; None without a strip."""
    if "photographs" not in report or not report["photographs"][0]["markers_in_layout"]:
        return None
    unseen, hidden = _unseen_share(report), hidden_shares(report)
    if against := contradicted(report):
        return Stated(None, "the outline", unseen, hidden, f"{against}, so that sizes are in doubt")
    if report.get("copies_pushed", False):
        why = "paint was probably pushed aside, as copies that hardly lie on one another say"
        return Stated(None, "the outline", unseen, hidden, why)
    without, in_shadow = traceless_share(report), in_shadow_share(report) > MUCH_SHADED
    # in a shadow what shows no edge and what lies beside it were taken from the same noise
    if without > (LITTLE_TRACE if in_shadow else MUCH_TRACELESS):
        why = f"along {100 * without:.0f} % of it the photograph shows no edge"
        return Stated(None, "the outline", unseen, hidden, why)
    if unseen > MOSTLY_UNSEEN:
        why = f"no more than {100 * (1 - unseen):.0f} % of it is graded seen"
        return Stated(None, "the outline", unseen, hidden, why)
    coarse, dim = colour_spread(report) > 0.0, partly_dim(report)
    of = "what is drawn" if hidden or coarse or dim else "the outline"
    if unseen > LEFT_OPEN:
        of = "what is graded seen"
    if without > LITTLE_TRACE:
        # rust has edges, too: what is conjectured is in no distance because it shows one
        seen = unseen > LEFT_OPEN
        of = f"what {'is graded seen and ' if seen else ''}shows an edge in the photograph"
    wider = SHADOW_WIDENS if in_shadow else 1.0
    within_mm = wider * float(report["photographs"][0]["within_mm"])
    return Stated(within_mm, of, unseen, hidden, coarse=coarse, dim=dim)


def measure_in_words(report: Report) -> str:
    """What a trace's measures rest on, for its first sentence."""
    if "photographs" not in report:
        return f"its scale is that of the scan, {report['scan']['dpi']:g} dpi"
    first, told = report["photographs"][0], stated(report)
    if told is None:
        return f"the measured places agree with the camera to {first['residual_mm']:.2f} mm"
    agree = f"the strip's markers agree with the camera to {first['residual_mm']:.3f} mm"
    if told.within_mm is None:
        return (
            f"{agree}, and how near {told.of} lies to the paint's edge is not told, for "
            f"{told.why_not}"
        )
    return (
        f"{agree}, and 95 % of {told.of} lie within {told.within_mm:.2f} mm of the paint's "
        f"edge{_without_words(told)}{_cropped_words(first)}"
        f"{_scale_words(report.get('strip', {}))}{_lifted_words(first)}"
    )


def _unseen_share(report: Report) -> float:
    """Share of what is drawn that is not graded seen."""
    lengths = report["drawing"]["length_by_grade_mm"]
    whole = math.fsum(lengths.values())
    return 1.0 - lengths.get(str(Grade.SEEN), 0.0) / whole if whole else 0.0


def _without_words(told: Stated) -> str:
    """What is in no distance: outline that is not seen, and paint that may be hidden."""
    parts = []
    if told.unseen > LEFT_OPEN:
        parts.append(f"the {100 * told.unseen:.0f} % of the outline that are not")
    if told.hidden:
        by = [
            f"{HIDES[why]} over {100 * share:.0f} %{' and more' if why == SHADED else ''}"
            for why, share in told.hidden.items()
        ]
        parts.append(
            f"paint that may be hidden by {listed(by)} of the work, so compare with the ornament "
            "there"
        )
    if told.coarse:
        parts.append("hairlines whose colour the picture has not kept")
    if told.dim:
        parts.append("fine lines and dots where the gilt hardly shines")
    return f" (not in that: {'; '.join(parts)})" if parts else ""


def _cropped_words(first: Report) -> str:
    """That paper longer one way looks like a cropped picture where no lens is known."""
    if not seems_cropped(first):
        return ""
    return ", if it is the photograph that was cropped and not the strip's paper that was pulled"


def _lifted_words(first: dict[str, Any]) -> str:
    """What a strip does that stands off all over, which no marker shows."""
    shift = first.get("strip_evidence", {}).get("lifted_shift_mm") or 0.0
    if shift < TELLING_MM:
        return ""
    return f"; each mm that it stood off the work all over would move them by up to {shift:.2f} mm"


def _scale_words(strip: dict[str, Any]) -> str:
    """What the scale rests on: what the strip measures, or nobody's word that it came out true."""
    drawn = strip.get("drawn_mm", math.nan)
    if "measured_mm" not in strip:
        # two prints may be wrong alike; only the work itself vouches for a print
        held = [one for one in strip.get("beside", []) if one["what"] == BY_HAND]
        if held:
            within = 100.0 * max(SURE * held[0]["sd"], LEAST_TOLD)
            return f"; {BY_HAND} agrees with the strip's size, within {within:.1f} %"
        return (
            ", if the strip was printed true: nobody has said what it measures where "
            f"{drawn:g} mm are drawn, nor one length of the work to hold against it"
        )
    length, error = strip["measured_mm"], strip["error_mm"]
    told = str(Measured(length, "mm", error))
    words = f"; the strip measures {told} where {drawn:g} mm are drawn, and all sizes go by that"
    return words if error else f"{words}, how surely was not said"
