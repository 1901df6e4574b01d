"""What the strip's markers say for and against where a photograph was placed.

Every marker, and every end of the strip, is left out in turn and looked for where the others put it
(cross-validation; Stone 1974, "Cross-validatory choice and assessment of statistical predictions").
For a least-squares fit that needs no new fit: the residual of a block left out follows from the hat
matrix (Cook and Weisberg 1982, "Residuals and influence in regression", 2.2). Blocks that lie
farther off than their noise explains widen the stated doubt by their ratio (Birge 1932).
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Floats

END_SHARE: Final = 1.0 / 3.0
"""Of the strip's width or height, what counts as one of its ends. A judgement, no source."""
CLEARLY: Final = 1.5
"""A rival explains the markers clearly better when the others' misfit is so many times its own; a
judgement, so that the simpler one is kept where they differ little."""
NOISE_PX: Final = 0.02
"""No side of a marker is measured better than this, whatever its residuals say (on what the tests
render; tuned)."""
NOISE_MM: Final = 0.003
"""Misfits below this are all as good: about a thirtieth of a pixel at ten pixels to the mm."""
MOST_MM: Final = 1.0
"""A marker farther off than this counts no more: it was misread or hangs loose. A judgement."""
EVEN_MM: Final = 0.012
"""Markers that lie so near where the others put them leave nothing to explain by another shape:
about a third of a hairline's usual error. A judgement, no source."""


@dataclass(frozen=True)
class StripEvidence:
    """How well the markers agree with one another under a placing.

    Attributes
    ----------
    left_out_mm
        Root mean square distance of each marker from where the others put it.
    end_mm, end
        The same of the end of the strip that lies farthest off, and which end it is.
    widened
        By how much the doubt of the placing was multiplied for that; 1 where noise explains it.
    off_work_mm
        Height at which the strip may stand off the work, root mean square.
    bow_mm
        By how much the surface bows under the strip, where that may be the strip's own bow.
    lifted_shift_mm
        By how much a strip lifted by 1 mm all over moves places: 95 % of those it encloses by
        less. No marker shows that.
    blur_px
        Standard deviation of the blur, from the printed edges, photograph pixels.
    blur_mm, blur_worst_mm
        The same on the surface: the median over the markers, and the blurrest tenth.
    rivals
        `left_out_mm` of each shape of surface that was tried.
    flat_after_all
        Whether a round surface was said and the markers show a flat one.
    lens_free_mm
        `left_out_mm` with the given lens let free; NaN where none was given.
    lens_shift_mm
        By how much that moves places within the strip, root mean square; 0 where none was given.
    lens_focal
        The focal length so found, as a share of the one given.
    centre_pull
        Standard deviations by which an estimated principal point lies off the picture's middle.
    """

    left_out_mm: float = math.nan
    end_mm: float = math.nan
    end: str = ""
    widened: float = 1.0
    off_work_mm: float = math.nan
    bow_mm: float = 0.0
    lifted_shift_mm: float = 0.0
    blur_px: float = math.nan
    blur_mm: float = math.nan
    blur_worst_mm: float = math.nan
    rivals: Mapping[str, float] = field(default_factory=dict)
    flat_after_all: bool = False
    lens_free_mm: float = math.nan
    lens_shift_mm: float = 0.0
    lens_focal: float = 1.0
    centre_pull: float = 0.0

    @property
    def lens_contradicted(self) -> bool:
        """Whether the markers fit clearly better with another lens than the one that was given."""
        return self.left_out_mm > EVEN_MM and self.left_out_mm > CLEARLY * self.lens_free_mm

    def to_json(self) -> str:
        """Its figures as JSON; what is not known is null."""
        told = dataclasses.asdict(self)
        return json.dumps(
            {k: None if isinstance(v, float) and math.isnan(v) else v for k, v in told.items()}
        )

    @classmethod
    def from_json(cls, text: str) -> StripEvidence:
        """The inverse of `to_json`."""
        told: dict[str, Any] = json.loads(text)
        known: dict[str, Any] = {k: math.nan if v is None else v for k, v in told.items()}
        return cls(**known)


@dataclass(frozen=True)
class LeftOut:
    """Markers left out by turns.

    Attributes
    ----------
    markers
        Numbers of the markers that were used, rising; a shape that fits badly uses fewer.
    marker_mm
        Distance of each of them from where the others put it, same shape.
    end_mm, end
        Of the end that lies farthest off for its noise.
    ratio
        Observed over expected distance, root mean square; the larger of markers' and ends'.
    """

    markers: NDArray[np.int64]
    marker_mm: Floats
    end_mm: float
    end: str
    ratio: float

    @property
    def rms_mm(self) -> float:
        """Root mean square over the markers, none counted for more than `MOST_MM`."""
        return float(np.sqrt(np.mean(np.minimum(self.marker_mm, MOST_MM) ** 2)))

    def clearly_better_than(self, other: LeftOut) -> bool:
        """Whether its misfit is clearly smaller, marker by marker and not by chance.

        By the mean of log ratios, so that no single marker decides.
        """
        # markers that fit the other so badly that they were left out of it speak for this one
        if len(self.markers) > len(other.markers) + 1 and self.rms_mm < other.rms_mm:
            return True
        if other.rms_mm < EVEN_MM:
            return False
        _, mine, its = np.intersect1d(self.markers, other.markers, return_indices=True)
        if len(mine) < 3:
            return False
        gain = np.log((other.marker_mm[its] + NOISE_MM) / (self.marker_mm[mine] + NOISE_MM))
        sure = 2.0 * float(gain.std()) / math.sqrt(len(gain))
        return bool(gain.mean() > max(math.log(CLEARLY), sure))


@dataclass(frozen=True)
class SideRows:
    """Residuals of marker sides: one row for each side, of all its places measured.

    Attributes
    ----------
    miss_px, jacobian, normal_px
        Mean distance from the projected side, its derivatives, and the direction square to it.
    noise_px
        Standard deviation of one such mean.
    scale
        Pixels per mm there.
    marker
        Number of the marker.
    xy
        Place on the surface, mm.
    prior
        Information of what is believed beforehand.
    """

    miss_px: Floats
    jacobian: Floats
    normal_px: Floats
    noise_px: float
    scale: Floats
    marker: NDArray[np.int64]
    xy: Floats
    prior: Floats

    @classmethod
    def of(
        cls,
        side: NDArray[np.int64],
        places: Mapping[str, Floats],
        marker: NDArray[np.int64],
        prior: Floats,
    ) -> SideRows:
        """Means over each side of ``miss``, ``jacobian``, ``normal``, ``scale`` and ``xy``."""
        names, index = np.unique(side, return_inverse=True)
        count = np.bincount(index).astype(np.float64)

        def mean(values: Floats) -> Floats:
            flat = values.reshape(len(values), -1)
            held = np.stack(
                [np.bincount(index, flat[:, k]) / count for k in range(flat.shape[1])], axis=1
            )
            return held.reshape(len(names), *values.shape[1:])

        miss = mean(places["miss"])
        within = float(np.median(np.abs(places["miss"] - miss[index]))) * 1.4826
        first = np.unique(index, return_index=True)[1]
        # neighbouring places on a side share the paper's errors: they count as three, not twelve
        noise = max(within / math.sqrt(3.0), NOISE_PX)
        return cls(
            miss, mean(places["jacobian"]), mean(places["normal"]), noise,
            mean(places["scale"]), marker[first], mean(places["xy"]), prior,
        )  # fmt: skip


def left_out(rows: SideRows) -> LeftOut:
    """Leave each marker, and each end of the strip, out in turn."""
    variance = rows.noise_px**2
    information = rows.jacobian.T @ rows.jacobian / variance + rows.prior
    spread = np.asarray(np.linalg.pinv(information, hermitian=True), np.float64)
    numbers = np.unique(rows.marker)
    each = [_off(rows, np.flatnonzero(rows.marker == m), spread) for m in numbers]
    ends = {name: _off(rows, block, spread) for name, block in _ends(rows).items()}
    name = max(ends, key=lambda n: ends[n][1], default="")
    ratio = float(np.mean([z for _, z in each]))
    if ends:
        ratio = max(ratio, float(np.mean([z for _, z in ends.values()])))
    return LeftOut(
        numbers,
        np.array([mm for mm, _ in each]),
        ends[name][0] if name else math.nan,
        name,
        math.sqrt(max(ratio, 1.0)),
    )


def _ends(rows: SideRows) -> dict[str, NDArray[np.int64]]:
    """Sides in the outer third at each end, where enough is left to look from."""
    low, high = rows.xy.min(axis=0), rows.xy.max(axis=0)
    share = (rows.xy - low) / np.maximum(high - low, 1e-9)
    found = {
        "left": share[:, 0] < END_SHARE,
        "right": share[:, 0] > 1.0 - END_SHARE,
        "upper": share[:, 1] < END_SHARE,
        "lower": share[:, 1] > 1.0 - END_SHARE,
    }
    few = rows.jacobian.shape[1] + 4
    return {
        name: np.flatnonzero(mask)
        for name, mask in found.items()
        if mask.sum() >= 4 and (~mask).sum() >= few
    }


def _off(rows: SideRows, block: NDArray[np.int64], spread: Floats) -> tuple[float, float]:
    """How far a block lies from where the others put it, mm, and squared in units of its noise."""
    j, normal = rows.jacobian[block], rows.normal_px[block]
    variance = rows.noise_px**2
    weight = (np.eye(len(block)) - j @ spread @ j.T / variance) / variance
    fit = normal.T @ weight @ normal
    pull = normal.T @ rows.miss_px[block] / variance
    shift = np.linalg.lstsq(fit, pull, rcond=1e-9)[0]
    off = float(np.linalg.norm(shift)) / float(np.mean(rows.scale[block]))
    return off, float(pull @ shift) / 2.0
