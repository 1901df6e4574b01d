"""One photographed ornament, small enough to be rendered once for all tests of the chain."""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from darkroom import Ornament, Shot, photograph, scrollwork
from ironlace.evidence.progress import Steps
from ironlace.ornament import PhotographsToTrace, TraceAsked, Traced, trace_photographs
from ironlace.photographs import Lens, StripLayout, strip_sheet


@dataclass
class Case:
    """A photograph with all that is true of it, and what came out."""

    ornament: Ornament
    shot: Shot
    image: NDArray[np.uint8]
    layout: StripLayout
    lens: Lens
    steps: list[tuple[str, float]]
    traced: Traced


@pytest.fixture(scope="session")
def plane_case() -> Case:
    rng = np.random.default_rng(11)
    sheet = strip_sheet("wrap")
    ornament = scrollwork(rng, (20, 20, 180, 110), scrolls=10)
    shot = Shot(
        width=2400,
        height=1700,
        focal_px=2600,
        aim_mm=(100.0, 65.0),
        distance_mm=260.0,
        blur_px=0.6,
        principal=(8.0, -5.0),
    )
    image = photograph(ornament, sheet, shot, rng)
    lens = Lens.from_json(json.dumps(shot.lens))
    steps: list[tuple[str, float]] = []

    class Heard(Steps):
        def __call__(self, step: str, share: float) -> None:
            steps.append((step, share))

    asked = TraceAsked(strip="wrap", lens=lens)
    traced = trace_photographs(PhotographsToTrace.of([image]), asked, Heard())
    return Case(ornament, shot, image, sheet.layout, lens, steps, traced)
