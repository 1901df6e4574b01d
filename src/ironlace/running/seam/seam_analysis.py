"""The stitch-out as a declared analysis: a kept scan or photograph in, every stitch out.

What takes long to load is loaded when it is worked out, so that naming the analysis costs nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from ironlace.evidence.analyses import Analysis, Ask, AskedError
from ironlace.evidence.answers import Answer, PlotsWhenSeen, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.photographs.scale_strip import PIECE_WORDS, StripLayout, strip_sheet

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ironlace.running.seam.bearing import Bearing, Origin
    from ironlace.running.seam.seam_measured import SeamMeasured
    from ironlace.running.seam.seam_picture import SeamPicture

COVERAGE = 0.9
"""Share of intervals that hold the truth."""

SCAN = "none"
"""No strip: a scan, whose dots to the inch are stated."""

MEAN, CV, SKIPS = "mean stitch length", "evenness (variation of the lengths)", "skipped stitches"
"""Names of the results that later comparisons read."""

STITCHES = "stitches"
"""Name of the result that counts them."""

LONG = "length of seam measured"
"""Name of the result from which the page knows how many rows to show."""

SINGLE, SPREAD = "single, sure stitches", "spread of their lengths, as a share"
"""How many were compared, and their standard deviation over the mean, measuring error and all."""

AWAY, AWAY_SPREAD = "mean distance from their median, as a share", "spread of that distance"
"""What a test of evenness needs (Brown and Forsythe, 1974) without the single lengths."""


@dataclass(frozen=True)
class SeamPhotograph:
    """A kept scan or photograph of a seam.

    Attributes
    ----------
    name, checksum
        Its name in the record, and its SHA-256.
    opened
        Gives its pixels, sRGB, (height, width, 3).
    file_dpi
        Dots to the inch that the file gives of itself, None where it gives none worth the name.
    by_camera
        Whether the file says that a camera with a lens took it.
    focal_35mm
        Focal length for 35 mm film by Exif.
    """

    name: str
    checksum: str
    opened: Callable[[], NDArray[np.uint8]]
    file_dpi: float | None
    by_camera: bool
    focal_35mm: float | None


@dataclass(frozen=True)
class SeamAsked:
    """What is asked for a seam."""

    photograph: Annotated[
        str, Ask("Scan or photograph of the seam", names="photograph", pointed=True)
    ]
    dpi: Annotated[
        float | None,
        Ask("Dots to the inch of the scan", low=100.0, high=9600.0, example="600"),
    ] = None
    strip: Annotated[
        Literal["none", "frame", "corner", "wrap", "strip", "own"],
        Ask(
            "Strip in the picture",
            choices={SCAN: "none: it is a scan", **PIECE_WORDS, "own": "a strip of your own"},
        ),
    ] = "none"
    layout: Annotated[
        str, Ask("Layout of a strip of your own", "CSV of its markers.", long=True, more=True)
    ] = ""
    side: Annotated[
        Literal["unsaid", "upper", "under"],
        Ask(
            "Which side of the cloth it shows",
            choices={"unsaid": "not said", "upper": "the upper side", "under": "the under side"},
        ),
    ] = "unsaid"
    cloth: Annotated[
        str, Ask("What it was sewn on and with", example="calico, two layers, no. 14 needle")
    ] = ""

    def __post_init__(self) -> None:
        if (self.dpi is None) == (self.strip == SCAN):
            raise AskedError(
                "The picture's scale is needed, one way: dots to the inch for a scan, or the "
                "scale strip that lies in a photograph.",
                "dpi",
            )
        if (self.strip == "own") != bool(self.layout.strip()):
            raise AskedError(
                "A strip of your own needs the CSV of its markers, and no other strip has one.",
                "layout",
            )


@dataclass(frozen=True)
class SeamFound:
    """A seam measured, and whether its picture bears the answer."""

    measured: SeamMeasured
    judged: Bearing
    picture: SeamPicture
    asked: SeamAsked | None = None


def seam_found(
    image: NDArray[np.uint8],
    origin: Origin,
    *,
    dpi: float | None,
    layout: StripLayout | None,
    focal_35mm: float | None = None,
) -> SeamFound:
    """Measure a seam in a picture and judge it: the one way of page and command.

    Raises
    ------
    RunningError, PhotographsError
        If there is no seam, or the strip is not found.
    """
    from ironlace.running.seam.bearing import Bearing, bearing
    from ironlace.running.seam.seam_by_strip import seam_by_strip
    from ironlace.running.seam.seam_measured import Scale, measure_seam
    from ironlace.running.seam.seam_picture import SeamPicture
    from ironlace.running.seam.stored_blocks import blocks_px

    why: tuple[str, ...] = ()
    if layout is not None:
        shown, scale, why = seam_by_strip(image, layout, focal_35mm)
    else:
        if dpi is None:
            raise ValueError("a picture without a strip needs its dots to the inch")
        k = dpi / 25.4
        blocks = blocks_px(image) / k if k > 0.0 else 0.0  # no scale at all is refused further on
        shown, scale = SeamPicture(image, k, blocks_mm=blocks), Scale("dpi")
    measured = measure_seam(shown, scale)
    judged = bearing(measured, origin, dpi)
    return SeamFound(measured, Bearing((*why, *judged.why), judged.notices), shown)


def seam(inputs: SeamPhotograph, asked: SeamAsked, _steps: Steps) -> SeamFound:
    """Measure the seam in a kept picture."""
    from dataclasses import replace

    from ironlace.running.seam.bearing import Origin

    layout = None
    if asked.strip == "own":
        layout = StripLayout.from_csv(asked.layout)
    elif asked.strip != "none":
        layout = strip_sheet(asked.strip).layout
    found = seam_found(
        inputs.opened(),
        Origin(inputs.file_dpi, inputs.by_camera),
        dpi=asked.dpi,
        layout=layout,
        focal_35mm=inputs.focal_35mm,
    )
    return replace(found, asked=asked)


def seam_answer(found: SeamFound) -> Answer:
    """Tell the seam."""
    from ironlace.running.seam.seam_plot import seam_plots
    from ironlace.running.seam.seam_told import seam_figures, seam_sentences

    grade = Grade.MEASURED if found.judged.reliable else Grade.CONJECTURED
    sentences = tuple(seam_sentences(found.measured, found.judged))
    if found.asked is not None and found.asked.cloth:
        sentences = (*sentences, f"Sewn on and with: {found.asked.cloth}.")
    return Answer(
        tuple(_results(found, grade)),
        sentences,
        figures=seam_figures(found.measured, found.judged),
        tables=(_stitches(found),),
        plots=PlotsWhenSeen(lambda: seam_plots(found.measured)),
    )


def _results(found: SeamFound, grade: Grade) -> Iterator[Result]:
    import numpy as np

    seam = found.measured
    figures = seam.figures
    low, mean, high = figures.mean_mm

    def result(
        name: str, value: float, unit: str = "", ends: tuple[float, float] | None = None
    ) -> Result:
        held = None
        if ends is not None and np.isfinite(ends).all():
            held = Interval(low=float(ends[0]), high=float(ends[1]), coverage=COVERAGE)
        return Result(name=name, value=float(value), unit=unit, interval=held, grade=grade)

    yield result(MEAN, mean, "mm", (low, high))
    yield result("stitches to the inch", 25.4 / mean, "", (25.4 / high, 25.4 / low))
    if np.isfinite(figures.cv[1]):
        yield result(CV, figures.cv[1], "", (figures.cv[0], figures.cv[2]))
    yield Result(name=SKIPS, value=seam.skipped, grade=grade)
    yield result(LONG, seam.along_mm[-1], "mm")
    yield Result(name=STITCHES, value=int(seam.stitches.sum()), grade=grade)
    yield result("off a straight line (rms)", seam.straightness_mm, "mm")
    drift = figures.drift
    if np.isfinite(drift).all():
        yield result("change of length from beginning to end", drift[1], "", (drift[0], drift[2]))
    if figures.periodic:
        yield result("stitches after which the length comes back", figures.period_stitches)
        yield result("swing of the length to either side", figures.period_mm, "mm")
    lengths = seam.lengths_mm[seam.weighed]
    if len(lengths) > 1:
        share = lengths / lengths.mean()
        away = np.abs(share - np.median(share))
        yield Result(name=SINGLE, value=len(lengths), grade=grade)
        yield result(SPREAD, share.std(ddof=1))
        yield result(AWAY, away.mean())
        yield result(AWAY_SPREAD, away.std(ddof=1))


def _stitches(found: SeamFound) -> Table:
    seam = found.measured
    rows = []
    for i, length in enumerate(seam.lengths_mm):
        doubt = bool(seam.doubtful[i] or seam.doubtful[i + 1] or seam.unseen[i])
        skipped = 0 if seam.unseen[i] else int(seam.stitches[i]) - 1
        words = [f"{skipped} skipped"] if skipped else []
        words += ["its thread stops"] if seam.left_out[i] else []
        rows.append(
            (
                str(i + 1),
                f"{seam.along_mm[i]:.2f}",
                f"{length:.3f}",
                ", ".join([*words, *(["doubtful"] if doubt else [])]) or "sure",
            )
        )
    return Table("Every stitch", ("Number", "From, mm", "Length, mm", "How sure"), tuple(rows))


def _of_photograph(asked: SeamAsked) -> str:
    return asked.photograph


SEAM = Analysis(
    key="seam",
    about="stitches of a test seam",
    question="How even is the seam?",
    section="running",
    inputs=SeamPhotograph,
    asked=SeamAsked,
    work=seam,
    answer=seam_answer,
    method="ironlace.running: needle holes learnt from the seam's own picture, the whole seam "
    "laid by dynamic programming",
    published="M. Welch 1947, M. Brown and A. Forsythe 1974 and R. Fisher 1922 where seams are "
    "compared; the measuring is our own",
    subject=_of_photograph,
)
