"""What limits a trace: how true its outlines can be, and what the photographs cannot show.

The doubt of position joins what the strip leaves open, what a doubtful lens would move, and where
the edge of the paint was placed in light that the lens has spread.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.ornament.errors import OrnamentError
from ironlace.ornament.gather.lone_specks import LONE_SPECK
from ironlace.ornament.gilt.gilt_map import FAINT_GILT, MUCH_UNEVEN
from ironlace.photographs.place_by_strip import Placing

Report = dict[str, Any]
"""Numbers and texts by name, as `trace_report` has it."""

NINETY_FIVE: Final = 1.96
"""Standard deviations to each side that hold 95 of 100 of a normal distribution."""
EDGE_OF_BLUR: Final = 0.5
"""Of the blur's standard deviation, how far the edge of paint is misplaced in 5 of 100 places.
Tuned on photographs that the tests cast, with shapes of blur and ornaments of several kinds."""
FINE_BLUR_MM: Final = 0.2
"""From about this blur on fine lines melt, and the edge is misplaced by more than in proportion."""
BLUR_TOLD_MM: Final = 0.125
"""A blur beyond this is told: a hairline of 0.3 mm then loses a fifth of its light."""
SOFTER: Final = 1.5
"""The gilt's edges are blurred more than the strip's from so many times its blur: a brushed edge is
somewhat softer than a printed one. A judgement, no source."""
MOST_BLUR_MM: Final = 0.26
"""A photograph more blurred is refused: hairlines of 0.3 mm keep less than half of their light."""
MUCH_BANDED: Final = 0.08
"""Swing of light in bands, one standard deviation of its logarithm, from which it is told. A
judgement: lamps that flicker by a quarter and more came to 0.12 to 0.26, oil on paper to 0.06."""
LEFT_OUT_MM: Final = 0.05
"""Markers farther from where the others put them are told of; half of what the manual calls bad."""
NOT_FLAT_MM: Final = 0.1
"""Markers that lie farther from where camera and strip put them say that the paper was not flat or
not in one plane with the work. A judgement, as the manual gives it; no source."""
OFF_WORK_MM: Final = 0.2
"""A strip that may stand off the work so far is told of: twice what is usual. A judgement."""
BOW_MM: Final = 0.3
"""A surface that bows by so much under the strip, and no more than the strip itself might, is told
of. A judgement: 0.1 mm comes of noise."""
CROPPED: Final = 3.0
"""Standard deviations by which an estimated principal point may lie off the picture's middle."""
LITTLE_TRACE: Final = 0.05
"""Share of what is graded seen under which the photograph may show no trace before it is said.
A judgement, no source."""
MUCH_TRACELESS: Final = 0.1
"""The same from which it is not told how near the outline lies: what was taken for gilt is in part
something else. A judgement: 0.22 came of light of two colours, with 0.4 of the outline false, and
0.11 of words in gold laid over it, with 0.27 false."""
MOSTLY_TRACELESS: Final = 0.5
"""The same from which what was drawn is not in the photograph, and is refused. A judgement: 0.03 at
most is usual, 0.11 came of a picture stored very small, 0.87 of grey light taken for gilt."""
MUCH_FAINT: Final = 0.1
"""Share of the gilt that may hardly shine before it is said. A judgement, no source."""
MOSTLY_FAINT: Final = 0.5
"""The same from which a drawing that the photograph bears out badly is refused. A judgement."""
MUCH_BLIND: Final = 0.01
"""Share of what the strip encloses that may be blind before it is said. A judgement, no source."""
MUCH_SHADED: Final = 0.02
"""Share of the same that may lie in a deep shadow before it is said. A judgement, no source."""
SHADED: Final = "in shadow"
"""What a deep shadow is called among the reasons why paint may be hidden."""
OTHER_PAINT: Final = "of another colour"
"""What strokes that are left out for their colour are called among the same."""
GONE_GREY: Final = "gone grey"
"""What grey strokes to which gilt pales are called among the same."""
MUCH_OTHER_PAINT: Final = 0.005
"""Share of the same that they may take up before it is said. A judgement: 0.037 came of a third of
the bronze gone green, and of flowers beside it; 0 of gilt alone."""
AT_THE_RIM: Final = ("too slanting", "outside the photograph")
"""What every photograph of a round arm has where it turns away, mostly bare paper's width of it."""
MUCH_AT_THE_RIM: Final = 0.05
"""The same of these, where no outline ends there. A judgement, no source."""
MUCH_UNTAKEN: Final = 0.01
"""Gilt that the mirror image would add, as a share of what there is, before it is said: judged."""
SURELY_UNTAKEN: Final = 0.06
"""The same from which wear is called probable: an unworn ornament in a mirrored frame that is no
mirror image itself would be given up to 4 % (seen on invented ones)."""
LOOSE_END_MM: Final = 2.0
"""Outline that ends at a blind place, before it is said."""
BLIND_WORDS: Final[dict[str, str]] = {
    "glare": "glare hides {share}",
    "covered": "something that is neither japan nor gilt covers {share}, a thing on it or priming "
    "laid bare, and where it ends no paint does: clear it away, or touch it as gilt if it is",
    "outside the photograph": "{share} lies outside the photograph",
    "too slanting": "{share} is seen too slantingly or too coarsely",
    "too dark": "{share} is too dark to tell gilt from japan",
    SHADED: "{share} lies in a deep shadow, where fine lines may be missing",
    OTHER_PAINT: "{share} stands out as gilt does but in another colour and is left out, bronze "
    "gone green or other paint: trace it as a colour of its own if it belongs to the ornament",
    GONE_GREY: "{share} stands out as brightly as gilt but is grey and left out, and gilt pales to "
    "it by degrees, as bronze and leaf go white: trace it as a colour of its own if it belongs to "
    "the ornament",
}
"""How the share of each kind of blind place is told."""


def refuse_blurred(placing: Placing, name: str) -> None:
    """Refuse a photograph in which hairlines have melted away.

    Raises
    ------
    OrnamentError
        That says how blurred it is and what to do.
    """
    blur = placing.evidence.blur_mm
    if blur > MOST_BLUR_MM:
        raise OrnamentError(
            f"{name} is blurred over {blur:.2f} mm, as the printed edges of the strip show, and at "
            f"most {MOST_BLUR_MM:.2f} mm still tells hairlines: focus on the ornament, hold still "
            "or come closer, and photograph it again."
        )


def refuse_traceless(proof: Report, faint: float = 0.0) -> None:
    """Refuse a drawing that its own photograph does not show.

    Parameters
    ----------
    proof
        The drawing's, laid back on its photograph.
    faint
        Share of the gilt found that hardly shines; 0 where that was not asked.

    Raises
    ------
    OrnamentError
        That says how much of it shows no edge and what to do.
    """
    share = proof["graded_seen_without_a_trace"]
    if share > MUCH_TRACELESS and faint > MOSTLY_FAINT:
        raise OrnamentError(
            f"{100 * faint:.0f} % of what was taken for gilt adds less than "
            f"{100 * FAINT_GILT:.0f} % of the paper's light to the japan, as gilt does that "
            f"mirrors a dark room, and {100 * share:.0f} % of its outline shows no edge, so that "
            "gilt and japan cannot be told apart: hold a white sheet or turn a lamp or window so "
            "that the gilt mirrors it, and photograph it again."
        )
    if share > MOSTLY_TRACELESS:
        raise OrnamentError(
            f"What was taken for gilt has no edge in the photograph along {100 * share:.0f} % of "
            "what would be graded seen, so it is no drawing of the ornament; light the gilt from "
            "the side, or point at one place of it."
        )


def traceless_share(report: Report) -> float:
    """Share of what would be graded seen along which the photograph shows no edge.

    It is told before such stretches are graded conjectured; reports kept earlier have the proof's.
    """
    proof = report.get("proof") or {}
    return float(report.get("traceless_share", proof.get("graded_seen_without_a_trace", 0.0)))


def faint_share(report: Report) -> float:
    """Share of the gilt found that hardly shines, of the worst photograph; 0 if not asked."""
    return _of_gilt(report, "faint_share", 0.0)


def uneven_gilt(report: Report) -> float:
    """Times by which gilt shines more here than there, of the worst photograph; 1 if not asked."""
    return _of_gilt(report, "uneven", 1.0)


def partly_dim(report: Report) -> bool:
    """Whether fine lines may be missing where the gilt shines little."""
    return faint_share(report) > MUCH_FAINT or uneven_gilt(report) > MUCH_UNEVEN


def _of_gilt(report: Report, what: str, usual: float) -> float:
    """The most of a figure of the gilt; usual for other colours and scans, of their own light."""
    taken = report.get("photographs", [])
    if report.get("colours") or not any(one["markers_in_layout"] for one in taken):
        return usual  # there is no paper
    return float(max((one.get(what, usual) for one in report.get("gilt", [])), default=usual))


def in_shadow_share(report: Report) -> float:
    """Share of what the strip encloses that lies in deep shadow or is too dark to tell gilt.

    What is missing there may be several times that share of the outline (a half of it to two and
    a half times, `bench/photographs_in_shadow.py`), so that no distance can hold it.
    """
    dark = report.get("blind_share", {}).get("too dark", 0.0)
    return float(report.get("shaded_share", 0.0)) + float(dark)


def colour_spread(report: Report) -> float:
    """Over how much a photograph spreads colour beside light, mm; 0 where none does, or unasked."""
    return max((one.get("colour_spread_mm", 0.0) for one in report.get("gilt", [])), default=0.0)


def seems_cropped(one: Report) -> bool:
    """Whether a photograph's markers want the lens's middle far from the picture's."""
    return (one.get("strip_evidence", {}).get("centre_pull") or 0.0) > CROPPED


def hidden_shares(report: Report) -> dict[str, float]:
    """Shares of what the strip encloses, by why, that may hide paint and are told; most first."""
    loose = report.get("ends_blind_mm", 0.0)
    out = {}
    for why, share in report.get("blind_share", {}).items():
        at_the_rim = why in AT_THE_RIM and loose <= LOOSE_END_MM
        if share > (MUCH_AT_THE_RIM if at_the_rim else MUCH_BLIND):
            out[why] = float(share)
    if (shaded := report.get("shaded_share", 0.0)) > MUCH_SHADED:
        out[SHADED] = float(shaded)
    if (other := report.get("other_paint_share", 0.0)) > MUCH_OTHER_PAINT:
        out[OTHER_PAINT] = float(other)
    if (grey := report.get("gone_grey_share", 0.0)) > MUCH_OTHER_PAINT:
        out[GONE_GREY] = float(grey)
    return dict(sorted(out.items(), key=lambda item: -item[1]))


def contradicted(report: Report) -> str:
    """What other known sizes in the picture say against the strip's; empty where none does."""
    said = (_of_scale(one) for one in report.get("strip", {}).get("beside", []))
    return " and ".join(words for words in said if words)


def within_mm(
    placing: Placing,
    place_sd_mm: Floats,
    px_per_mm: float,
    tolerance: float,
    gilt_blur_mm: float = math.nan,
) -> float:
    """How near to the truth 95 of 100 places of the outline lie, mm.

    Parameters
    ----------
    placing
        The photograph's place and what its markers say.
    place_sd_mm
        Doubt of places within the strip, (n,).
    px_per_mm
        Photograph pixels to the mm.
    tolerance
        How far a curve may stray from the edge found.
    gilt_blur_mm
        Blur across the gilt's own edges, NaN where it was not measured.
    """
    evidence = placing.evidence
    blur = evidence.blur_mm if math.isfinite(evidence.blur_mm) else 1.0 / max(px_per_mm, 0.1)
    if gilt_blur_mm > SOFTER * blur:
        blur = gilt_blur_mm
    edge = EDGE_OF_BLUR * blur * (1.0 + (blur / FINE_BLUR_MM) ** 2)
    place = NINETY_FIVE * float(np.sqrt(np.mean(place_sd_mm**2)))
    lens = evidence.lens_shift_mm if evidence.left_out_mm > LEFT_OUT_MM else 0.0
    unit = placing.residual_mm if not placing.markers_used else 0.0
    return math.sqrt(edge**2 + place**2 + lens**2 + unit**2 + (0.3 * tolerance) ** 2)


def limits(report: Report) -> list[str]:
    """What limits a trace, the worst first, as parts of one sentence."""
    several = len(report.get("photographs", [])) > 1
    said = []
    if against := contradicted(report):
        said.append(
            f"{against}: one of them is not true to its size, or they do not lie in one plane, "
            "so measure the strip itself and say it"
        )
    said += _of_dim_gilt(report)
    if spread := colour_spread(report):
        said.append(
            f"the picture keeps its colour over {spread:.1f} mm and only its light finer, as files "
            "that are sent about do: hairlines have hardly any colour of their own, so fine lines "
            "may be missing, or grey ones near gilt be drawn: trace the camera's own file"
        )
    said += _of_copies(report)
    if (bare := traceless_share(report)) > LITTLE_TRACE:
        said.append(
            f"along {100 * bare:.0f} % of what was taken for gilt's edge the photograph shows no "
            "fall of light: longer stretches of it are conjectured, so lay the drawing back on it "
            "and look there"
        )
    if (flecks := report.get("flecks", {})).get("length_mm", 0.0) > 0.0:
        said.append(
            f"{flecks['unlike']} of {flecks['small']} small islands shine unlike the gilt around "
            "them, as flecks of rust or dirt and priming laid bare do: all of these, "
            f"{flecks['length_mm']:.0f} mm of outline, are conjectured, so look, and take out by "
            "hand what is none of the ornament"
        )
    for one in report.get("photographs", []):
        place = f" of {one['photograph']}" if several else ""
        said += [f"{words}{place and ' (' + place[4:] + ')'}" for words in _of_photograph(one)]
    for why, share in hidden_shares(report).items():
        told = f"{100 * share:.0f} % of what the strip encloses"
        said.append(BLIND_WORDS[why].format(share=told))
    said += _of_untaken_mirror(report)
    loose = report.get("ends_blind_mm", 0.0)
    if (beyond := report.get("beyond_strip_mm", 0.0)) > LOOSE_END_MM:
        said.append(
            f"{beyond:.0f} mm of outline beyond the strip, apart from what it encloses, were left "
            "out, for the work may end there: if they are ornament, touch them as gilt"
        )
    if loose > LOOSE_END_MM:
        said.append(f"{loose:.0f} mm of outline end where sight ends, not where the paint does")
    return said


def _of_untaken_mirror(report: Report) -> list[str]:
    """What a mirror image would add that was not taken."""
    said: list[str] = []
    fills = max((m["fills_share"] for m in report.get("mirror_untaken", [])), default=0.0)
    if fills > MUCH_UNTAKEN and partly_dim(report):
        said.append(
            f"its mirror image, which was not taken, would add {100 * fills:.0f} % of gilt: it may "
            "be worn away, or shine too little to be found, so look"
        )
    elif fills > MUCH_UNTAKEN:
        said.append(
            f"its mirror image, which was not taken, would add {100 * fills:.0f} % of gilt, so "
            "that paint is probably worn away and some outlines are edges of wear: trace it with "
            "its mirror"
            if fills > SURELY_UNTAKEN
            else f"its mirror image, which was not taken, would add {100 * fills:.0f} % of gilt: "
            "where paint is worn away there, outlines are edges of wear, so look, and if it is, "
            "trace it with its mirror"
        )
    return said


def _of_dim_gilt(report: Report) -> list[str]:
    """That gilt hardly shines, or far less here than there."""
    said = []
    if (faint := faint_share(report)) > MUCH_FAINT:
        said.append(
            f"{100 * faint:.0f} % of the gilt hardly shines, with less than "
            f"{100 * FAINT_GILT:.0f} % of the paper's light, as it does where it mirrors a dark "
            "part of the room: fine lines and dots may be missing there, and rust and dirt be "
            "drawn, so hold a white sheet or turn a lamp or window so that all of it mirrors that, "
            "and photograph it again"
        )
    elif (times := uneven_gilt(report)) > MUCH_UNEVEN:
        said.append(
            f"gilt shines {times:.0f} times as strongly here as there, as under a single lamp: "
            "where it shines least whole parts may be missing, so light it from two sides or hold "
            "a white sheet where that part mirrors it, and photograph it again"
        )
    return said


def _of_copies(report: Report) -> list[str]:
    """What rims of two copies tell of wear, or why they tell nothing."""
    said = []
    if (eaten := report.get("eaten_share", 0.0)) > 0.0:
        said.append(
            "wear has crept in from the rims of the gilt, so that its strokes are thinner than "
            f"they were: along {100 * eaten:.0f} % of what two copies show, rims lie apart that "
            "should be one, so only outlines on which copies agree, or which run smoothly, are "
            "graded seen, and all others may lie some tenths of a millimetre inside the true ones"
        )
    if (thinned := report.get("copies_thinned_mm", 0.0)) > 0.0:
        said.append(
            f"rims of two copies that should be one lie some {thinned:.2f} mm apart here and "
            "there, now the one's farther in and now the other's: a hair of paint is worn from "
            "the rims, so outlines may lie so far inside the true ones, though graded seen, and "
            "what went evenly from both copies no photograph tells"
        )
    if (unlike := report.get("copies_unlike_mm", 0.0)) > 0.0:
        apart = f"rims of two copies hardly lie on one another, half of them {unlike:.2f} mm apart"
        said.append(
            f"{apart} or more and now more, now less within a millimetre, as where paint was "
            "pushed aside: none of it is graded seen, and outlines may be out by as much"
            if report.get("copies_pushed", False)
            else f"{apart} or more, as where each was painted by hand or paint was pushed aside in "
            "broad strokes, and wear from the rims cannot be told by them: if they were transfers "
            "or stencilled alike, all outlines may be out by as much, though graded seen"
        )
    if (specks := _length_of(report, LONE_SPECK)) > 0.0:
        said.append(
            f"small islands that one copy alone shows, {specks:.0f} mm of outline, are far more "
            "than wear of the others makes, as where filings or dust lie on the work: they are "
            "conjectured, so brush it clean and photograph it again, or look at each"
        )
    return said


def _length_of(report: Report, source: str) -> float:
    """Length of outline of a source, mm."""
    return float(report.get("drawing", {}).get("length_by_source_mm", {}).get(source, 0.0))


def _of_scale(beside: Report) -> str:
    """What another known size in the picture says against the strip's; empty where it agrees."""
    if not beside["contradicts"]:
        return ""
    off = 100.0 * (beside["times"] - 1.0)
    return (
        f"{beside['what']} comes out {abs(off):.1f} % too {'large' if off > 0 else 'small'} by the "
        "strip"
    )


def _of_photograph(one: Report) -> list[str]:
    """What limits one photograph."""
    said = []
    strip = one.get("strip_evidence", {})
    if (swing := one.get("light_bands", 0.0)) > MUCH_BANDED:
        said.append(
            f"light lies across it in bands, {100 * swing:.0f} % up and down, as of a lamp that "
            "flickers with the mains: the paper's edges and what is grey are misjudged there, so "
            "photograph it again by another lamp or by daylight"
        )
    off, end = strip.get("left_out_mm"), strip.get("end")
    if one["markers_in_layout"] and (one["residual_mm"] > NOT_FLAT_MM or (off or 0) > LEFT_OUT_MM):
        where = f", most at its {end} end" if end else ""
        off = max(off or 0.0, one["residual_mm"])
        said.append(
            f"the strip's markers lie {off:.2f} mm from where the others put them{where}: it was "
            "probably not flat, not in one plane with the ornament, or its end had moved"
        )
    elif (strip.get("off_work_mm") or 0.0) > OFF_WORK_MM and not strip.get("bow_mm"):
        said.append(
            "the markers leave open that the strip stood off the work by some "
            f"{strip['off_work_mm']:.1f} mm: lay it close and photograph it again"
        )
    if (strip.get("bow_mm") or 0.0) > BOW_MM:
        said.append(
            f"the strip bows by {strip['bow_mm']:.1f} mm: if the work beneath it does not, which a "
            "straight edge tells, it stood off, so lay it close and photograph it again"
        )
    if strip.get("lens_contradicted"):
        said.append(
            f"the markers would rather have a lens of {strip['lens_focal']:.2f} times the focal "
            "length given"
        )
    if seems_cropped(one):
        said.append(
            "the photograph seems to be cropped, or the strip's paper to be longer one way, which "
            "an estimated lens does not allow for: give the lens's file"
        )
    if strip.get("flat_after_all"):
        said.append("a round surface was said, and the markers lie flat: it was traced as a plane")
    blur = strip.get("blur_mm") or 0.0
    gilt = one.get("gilt_blur_mm") or 0.0
    if gilt > max(SOFTER * blur, BLUR_TOLD_MM):
        said.append(
            f"the gilt is blurred over {gilt:.2f} mm and the strip over {blur:.2f}: it was out of "
            "focus where the strip was not, so that fine lines come out too wide"
        )
    elif blur > BLUR_TOLD_MM:
        said.append(f"it is blurred over {blur:.2f} mm, so that fine lines come out too wide")
    return said
