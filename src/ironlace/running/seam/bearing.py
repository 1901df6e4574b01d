"""Whether a picture of a seam can bear the answer, and the words for it.

A reason makes the answer unreliable; a notice is what the reader has to know all the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from ironlace.running.seam.seam_measured import SeamMeasured
from ironlace.running.seam.which_are_ends import CLEAR

LEAST_APART: Final = 1.5
"""Ends whose pictures stand out less from what lies between, in standard deviations, are not told
from it. On sewn pictures of which nine in ten ends were found it was 2 and more (tuned)."""
LEAST_LEARNT: Final = 0.38
"""Share of a hole's look that other holes must foretell; below it they are no one thing (tuned)."""
LITTLE_OF_BOTH: Final = (2.2, 0.45)
"""Where both are below these no one of them need be below its own limit: of 168 seams, those
that limits were tuned on among them, one, and all of its marks stood beside the holes (tuned)."""
MOST_RIVAL: Final = 0.9
"""Another length of stitch that explains so much of the seam is as good (tuned)."""
MOST_DOUBTFUL: Final = 0.08
"""Share of ends that are doubtful or could not be seen: with more, a tenth may be missing."""
MOST_PASSED: Final = (2, 0.08)
"""From so many places on, and so great a share of the ends, that look like holes and fit in nowhere
the length told is not the seam's only one. A judgement."""
MOST_UNEVEN: Final = 0.2
"""No machine that feeds at all sews so unevenly: ends were taken for others. A judgement."""
SECOND_SEAM: Final = 0.3
"""Another line as like a seam as this share of the best is a second seam (tuned: 0.2 at most
beside 96 single seams, 0.40 for the fainter of two short ones)."""
ZIGZAG: Final = 0.2
"""Of `ThreadLooks.side_to_side` (0.11 at most for straight seams over stripes, 0.31 and more for
zigzag and for open chains)."""
BLURRED_MM: Final = 0.15
"""A thread's edge that takes longer than this to rise is out of focus; sharp ones take 0.1."""
BLURRED_SHARE: Final = 0.4
"""And as a share of the thread's width, which a thick soft thread does not reach."""
OF_THE_BLUR: Final = 0.6
"""Where a strip lies in the picture, a thread's edge is out of focus only if the blur of the
strip's printed edges, in the same plane, makes so much of it; else shadows on both sides or fluff
do. Between 0.43 (traced in focus, where two lamps threw two shadows) and 1.07 and 1.09 (painted
out of focus); a judgement."""
RISE_OF_BLUR: Final = 1.68
"""From a fifth to four fifths an edge blurred by a normal law takes so many of its deviations."""
EVERY_SECOND: Final = (0.1, 0.6, 5)
"""Of every second place less than the first share is missing or weak, of the others more than the
second, from so many places on: then those others may be none. A judgement."""
SLANT: Final = 0.15
"""Change of the thread's width along the seam that a square view does not give."""
SLANT_TOLD_TWICE: Final = (0.04, 0.5, 4.0)
"""A smaller change tells it all the same where the stitches change the same way by so many times
as much: a slanting view makes the thread thinner by the distance, and stitches that run away from
the camera shorter by up to its square; a machine changes the one and not the other."""
WITHIN_MM: Final = (0.8, 6.0)
"""Stitch lengths that are measured; beyond them the scale is more likely wrong."""
THREAD_MM: Final = (0.1, 0.9)
"""Widths of sewing threads, finest cotton to upholstery. Common practice, no source."""
BENT_MM: Final = 150.0
"""A seam bent more than this radius is told to be curved."""
STEEP_DEGREES: Final = 40.0
"""Lines are followed up to 45 degrees; nearer than this to it some may be lost."""
FAINT_CONTRAST: Final = 12.0
"""Thread nearer to the cloth's colour than this (L*a*b*) is said to be of its colour: at 9.7 all
marks of one drawn seam stood a third of a mm beside the holes (tuned)."""
CLEAR_ALL_THE_SAME: Final = (0.6, 5.0)
"""Unless its holes foretell one another and stand out more than this, and the seam turns into
itself about them: by light and shadow they are then as plain as any (tuned)."""
LEAST_CONTRAST: Final = 5.0
"""But never below this, where the line itself is lost (4.3 and 2 in two of which it was)."""
MOST_UNLIKE: Final = 4.0
"""Ends whose lightness differs more from one to the next (L*): of 48 seams two, of which one had
all its marks beside the holes (tuned)."""
MOST_ASIDE_MM: Final = 0.15
"""Marks farther from the middle of what departs from the thread are told to be beside the holes:
half of what would count one as missed."""
MOST_BESIDE: Final = 0.55
"""Elsewhere in the stitches so much departs, as a share of what does at the ends, that holes may
be there (0.46 at most where the seam was found, 0.59 where stripes were taken for it)."""
DPI_APART: Final = 0.02
"""Share by which a stated resolution may differ from the file's own."""
SURE_TWIST: Final = 5.0
"""Standard errors from which the slant of the plies is told."""


@dataclass(frozen=True)
class Origin:
    """What is known of where a picture came from.

    Attributes
    ----------
    file_dpi
        Resolution that the file gives of itself, None where it gives none.
    by_camera
        Whether the file says that a camera with a lens took it.
    """

    file_dpi: float | None = None
    by_camera: bool = False


@dataclass(frozen=True)
class Bearing:
    """What the picture can bear.

    Attributes
    ----------
    why
        Reasons why the answer cannot be relied on, the gravest first; empty where it can.
    notices
        What has to be known all the same.
    """

    why: tuple[str, ...]
    notices: tuple[str, ...]

    @property
    def reliable(self) -> bool:
        """Whether the answer can be relied on."""
        return not self.why


def bearing(found: SeamMeasured, origin: Origin, dpi: float | None) -> Bearing:
    """Judge what was found.

    Parameters
    ----------
    found
        The seam.
    origin
        What the file says of itself.
    dpi
        Dots to the inch as stated; None for a photograph with a strip.
    """
    why = [*_other_than_a_seam(found), *_wrong_scale(found, origin, dpi), *_unsure(found)]
    why += _incomplete(found)
    notices = list(_notices(found))
    if dpi is not None and origin.file_dpi is None:
        notices.append(
            f"The file does not say its dots to the inch: every length rests on the {dpi:g} stated."
        )
    return Bearing(tuple(why), tuple(notices))


def _other_than_a_seam(found: SeamMeasured) -> Iterator[str]:
    if found.thread.side_to_side > ZIGZAG:
        yield (
            "The thread runs from side to side: this is a zigzag or an open chain stitch, and it "
            "was not measured as a lockstitch."
        )
    elif found.thread.strands > 1:
        yield (
            "Two strands lie side by side between the holes: this is a chain stitch, or its looper "
            "side, and it was not measured as a lockstitch."
        )
    if found.rival_line_worth > SECOND_SEAM:
        yield (
            f"There are two seams in the picture, {found.rival_line_mm:.1f} mm apart: cut it so "
            "that one is left."
        )


def _wrong_scale(found: SeamMeasured, origin: Origin, dpi: float | None) -> Iterator[str]:
    mean, width = found.figures.mean_mm[1], found.thread.width_mm
    if dpi is not None and origin.by_camera:
        yield (
            "The file is a camera's, and a photograph has no one resolution: lay the scale strip "
            "beside the seam and give --strip."
        )
    if dpi is not None and origin.file_dpi and abs(origin.file_dpi / dpi - 1.0) > DPI_APART:
        yield (
            f"{dpi:g} dots to the inch were stated and the file says {origin.file_dpi:.0f}: by the "
            f"file's word the mean stitch would be {mean * dpi / origin.file_dpi:.2f} mm."
        )
    if not WITHIN_MM[0] <= mean <= WITHIN_MM[1]:
        yield (
            f"Stitches of {mean:.2f} mm lie outside of {WITHIN_MM[0]:g} to {WITHIN_MM[1]:g} mm, "
            "which is what can be measured: check the scale."
        )
    if math.isfinite(width) and not THREAD_MM[0] <= width <= THREAD_MM[1]:
        yield f"A thread {width:.2f} mm wide is no sewing thread's: check the scale."
    drift, error = found.thread.width_drift
    sure = dpi is not None and abs(drift) > 5.0 * error
    if sure and (abs(drift) > SLANT or _lengths_slant(found)):
        yield (
            f"The thread is {abs(drift):.0%} wider at one end of the seam than at the other: it "
            "was photographed slantwise. Lay the strip beside it and give --strip."
        )


def _lengths_slant(found: SeamMeasured) -> bool:
    """Whether thread and stitches change along the seam as a slanting view makes them."""
    drift, _ = found.thread.width_drift
    low, length, high = found.figures.drift
    least, few, many = SLANT_TOLD_TWICE
    return abs(drift) > least and low * high > 0.0 and few < length / drift < many


def _unsure(found: SeamMeasured) -> Iterator[str]:
    ends, thread = found.ends, found.thread
    yield from _every_second(found)
    if _soft(found) and not _sharp_beside(found):
        yield (
            f"The picture is out of focus: the thread's edge is {thread.flank_mm:.2f} mm wide "
            "where 0.1 mm is sharp."
        )
    clear = found.half_turned and thread.contrast > LEAST_CONTRAST
    clear &= ends.learnt > CLEAR_ALL_THE_SAME[0] and ends.apart > CLEAR_ALL_THE_SAME[1]
    faint = thread.contrast < FAINT_CONTRAST and not clear
    if faint:
        yield (
            "The thread has nearly the cloth's own colour: ends were told by light and shadow, one "
            "may be missing, and all marks may stand beside the holes alike."
        )
    if found.unlike > MOST_UNLIKE and not clear:
        yield (
            "What is seen at the ends differs from one to the next, as stripes, a coarse weave "
            "under a thin thread or a lamp that grazes the weave do: all marks may stand beside "
            "the holes alike. Take the light from half way up."
        )
    if found.aside_mm > MOST_ASIDE_MM or found.ends.beside > MOST_BESIDE:
        yield (
            "Elsewhere in each stitch as much differs from the thread as at the ends: all marks "
            "may stand beside the holes alike, or stitches be shorter than they were taken for."
        )
    both = ends.apart < LITTLE_OF_BOTH[0] and ends.learnt < LITTLE_OF_BOTH[1]
    if ends.apart < LEAST_APART or ends.learnt < LEAST_LEARNT or both:
        yield (
            "The stitches' ends hardly stand out from what lies between them, so that some may be "
            f"missing and others invented. {_why_hardly(found, faint=faint)}"
        )
    if ends.rival > MOST_RIVAL:
        yield "Another length of stitch explains the picture nearly as well."
    count = len(found.doubtful)
    # the first and the last end may lie at the picture's rim, where half of a hole is seen
    doubted = int(found.doubtful[1:-1].sum()) + int((found.stitches - 1)[found.unseen].sum())
    if doubted > MOST_DOUBTFUL * count:
        yield f"{doubted} of {count} ends are doubtful, or lie where they could not be seen."
    passed = len(found.passed_mm)
    if passed >= max(MOST_PASSED[0], MOST_PASSED[1] * count):
        yield (
            f"{passed} places within stitches look like holes and fit in nowhere: most stitches "
            "may be skipped and their length be less, or a second seam lies along this one."
        )
    if found.figures.cv_seen > MOST_UNEVEN:
        yield (
            f"The lengths vary by {found.figures.cv_seen:.0%}, more than a machine that feeds at "
            "all: ends were probably mistaken."
        )


def _soft(found: SeamMeasured) -> bool:
    """Whether the thread's edge takes longer to rise than a sharp one does."""
    flank, width = found.thread.flank_mm, found.thread.width_mm
    return flank > BLURRED_MM and flank > BLURRED_SHARE * width


def _sharp_beside(found: SeamMeasured) -> bool:
    """Whether the strip's own edges are too sharp to be what makes the thread's edge soft."""
    blur = found.scale.blur_mm
    return math.isfinite(blur) and RISE_OF_BLUR * blur < OF_THE_BLUR * found.thread.flank_mm


def _why_hardly(found: SeamMeasured, *, faint: bool) -> str:
    """What makes ends stand out little, as far as the picture tells."""
    if faint:
        return "The thread has the cloth's own colour."
    if _soft(found) and not _sharp_beside(found):
        return "Blur does that."
    if found.unlike > MOST_UNLIKE:
        return "A coarse weave, or a lamp that grazes it, does that."
    return (
        "It is not the thread's colour, nor blur: a taut thread that lies over closed holes does "
        "that, light from where the camera stands, or no seam being there. Look at the marked "
        "picture, and take the light from the side, half way up."
    )


def _every_second(found: SeamMeasured) -> Iterator[str]:
    """That every second hole may be none, where nearly all the missing and weak ones are those."""
    order = np.r_[0, np.cumsum(found.stitches)]
    clear = np.zeros(int(order[-1]) + 1, np.bool_)
    clear[order] = found.ends.evidence > CLEAR
    few, many, count = EVERY_SECOND
    lacking = [~clear[1:-1][which::2] for which in (0, 1)]
    one, other = sorted(lacking, key=lambda part: float(part.mean()) if len(part) else 0.0)
    if len(other) < count or one.mean() > few or other.mean() < many:
        return
    mean = found.figures.mean_mm[1]
    yield (
        f"Every second hole may be none: of those {int(other.sum())} of {len(other)} are missing "
        f"or hardly seen, of the others {int(one.sum())} of {len(one)}. Either the stitches are "
        f"{2.0 * mean:.2f} mm long, twice what is told, or nearly every second one was skipped."
    )


def _incomplete(found: SeamMeasured) -> Iterator[str]:
    usual = found.figures.mean_mm[1]
    lost = sum(mm for mm in found.unfound_mm if mm > 1.6 * usual)
    if lost:
        yield f"Along {lost:.0f} mm where the thread goes on no end was found."
    if found.burnt_mm > usual:
        yield (
            f"Along {found.burnt_mm:.0f} mm of the seam the picture is burnt out by a glare: no "
            "end can be seen there. Take the light from the side."
        )
    if found.steepest_degrees > STEEP_DEGREES:
        yield (
            f"The seam bends by {found.steepest_degrees:.0f} degrees against the picture's side, "
            "more than can be followed to its ends: scan it in shorter pieces."
        )
    count = len(found.doubtful)
    if count < 8:
        yield f"Only {count} ends were found; with fewer than eight it may be chance."


def twist_seen(found: SeamMeasured) -> str | None:
    """Which way the plies are seen to slant, "Z" or "S"; None where they do not show it."""
    if abs(found.twist) < SURE_TWIST:
        return None
    return "Z" if found.twist > 0 else "S"


def _notices(found: SeamMeasured) -> Iterator[str]:
    if found.bend_radius_mm < BENT_MM:
        yield (
            f"The seam is curved (radius {found.bend_radius_mm:.0f} mm); lengths are measured "
            "along it."
        )
    if found.looped > 0.15:
        yield (
            f"{found.looped:.0%} of the holes show another colour: the other thread is drawn up to "
            "this side, shows deep in open holes, or this is the back taken for the front."
        )
    else:
        yield "One side alone does not tell front from back: which side this is you must know."
    if found.blocks_mm:
        yield (
            f"The picture was stored roughly, in blocks of {found.blocks_mm:.2g} mm that show, and "
            f"a single stitch is told to {float(np.median(found.half_mm)):.2f} mm only: take the "
            "scanner's or camera's own file, not a copy made small for sending."
        )
    if _soft(found) and _sharp_beside(found):
        yield (
            f"The thread's edge is {found.thread.flank_mm:.2f} mm wide where 0.1 mm is sharp, and "
            "the strip beside it is in focus: shadows on both sides of it do that, or fluff."
        )
    twist = twist_seen(found)
    if twist == "S":
        yield (
            "The thread's plies slant like the middle of an S; sewing thread is mostly Z, so the "
            "picture may be mirrored. Lengths are the same, what is left and right is not. (Which "
            "twist is usual is common practice, no source.)"
        )
    elif twist == "Z":
        yield (
            "The thread's plies slant like the middle of a Z, as most sewing thread's do: unless "
            "yours is an S-twist thread the picture is not mirrored."
        )
    else:
        yield "The thread's plies do not show which way they slant: a mirrored scan is not noticed."
    if found.left_out.any():
        one, other = found.left_out[[0, -1]]
        which = "first and in the last" if one and other else ("first" if one else "last")
        half = float(found.half_mm[found.left_out].max())
        yield (
            f"In the {which} hole the thread stops, or the picture is cut off: a stitch there is "
            f"told to {half:.1f} mm only, and mean and evenness do without it."
        )
    unseen = int((found.stitches - 1)[found.unseen].sum())
    if unseen:
        yield (
            f"In {unseen} places a stitch was skipped, or its end lies on cloth of the thread's "
            "colour or looks unlike the others; they are not counted as skipped."
        )
    if found.figures.count >= 5 and np.isfinite(found.figures.cv[1]) and found.figures.cv[0] == 0.0:
        yield "The seam is as even as can be measured here: its unevenness may be none at all."
