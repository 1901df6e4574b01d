"""Photographs of a mark, balls and torches from files; a folder with what came of them."""

import csv
import json
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ironlace.dossier.folder_in_place import folder_in_place
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.marks.capture.capturing import Captured, GivenBall
from ironlace.marks.capture.frames import Frames, Grey
from ironlace.marks.capture.lights import Light, light_at, light_towards
from ironlace.marks.capture.live_check import LiveCheck
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.relief.plate_relief import Relief
from ironlace.workshop.store.intake import grey_pixels

WRITTEN = frozenset({"normals.npy", "height.npy", "albedo.png", "relief.json"})
"""Files of a relief."""


def frames_of_files(files: Sequence[Path]) -> Frames:
    """Read photographs in grey.

    Raises IronlaceError when one is not there, cannot be read, or does not fit the first.
    """
    missing = next((file for file in files if not file.is_file()), None)
    if missing is not None:
        raise NotFoundError(f"There is no file {missing}: check its name.")
    # one piece of memory for all, which goes back to the system whole when they are let go
    block: list[NDArray[np.generic]] = []
    making = Lock()

    def read(n: int) -> Grey:
        picture = grey_pixels(files[n])
        with making:
            if not block:
                block.append(np.empty((len(files), *picture.shape), picture.dtype))
        if picture.shape != block[0].shape[1:] or picture.dtype != block[0].dtype:
            return picture  # which is refused with its size
        block[0][n] = picture
        return cast("Grey", block[0][n])

    with ThreadPoolExecutor(2) as pool:
        return Frames(names_of(files), tuple(pool.map(read, range(len(files)))))


def names_of(files: Sequence[Path]) -> tuple[str, ...]:
    """The files' names; their whole paths where two share a name."""
    names = tuple(file.name for file in files)
    return names if len(set(names)) == len(names) else tuple(str(file) for file in files)


def balls_in(text: str) -> tuple[float | None, list[GivenBall]]:
    """Scale and balls of a BALLS.json: `mm_per_px` and `balls`, each `x`, `y`, `r_px`, `r_mm`.

    Raises IronlaceError when it cannot be read.
    """
    try:
        told = json.loads(text)
        scale = told.get("mm_per_px")
        balls = [
            GivenBall(
                Circle(float(b["x"]), float(b["y"]), float(b["r_px"])),
                None if b.get("r_mm") is None else float(b["r_mm"]),
            )
            for b in told["balls"]
        ]
        scale = None if scale is None else float(scale)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise IronlaceError(
            "The balls need a JSON object "
            '{"mm_per_px": .., "balls": [{"x": .., "y": .., "r_px": .., '
            f'"r_mm": ..}}]}}, each a number ({error!r}).'
        ) from error
    numbers = [scale] + [v for b in balls for v in (b.circle.r, b.r_mm)]
    if any(v is not None and not (np.isfinite(v) and v > 0) for v in numbers):
        raise IronlaceError("Scale and radii of the balls must be above 0: measure them again.")
    if not balls:
        raise IronlaceError("The file of balls names none: point at one at least, or leave it out.")
    return scale, balls


def lights_in(text: str, names: Sequence[str]) -> list[Light]:
    """Where the torch stood for each photograph, from a LIGHTS.csv.

    Columns `file,x_mm,y_mm,z_mm` or `file,azimuth_deg,elevation_deg`; azimuth from X (right)
    towards Y (up).

    Raises IronlaceError when a photograph has no row, or a row no numbers.
    """
    rows = {Path(row.get("file") or "").name: row for row in csv.DictReader(text.splitlines())}
    found = []
    for name in names:
        row = rows.get(Path(name).name)
        if row is None:
            raise IronlaceError(
                f"The table of lights has no row for {name}: it needs one for each photograph, "
                "with "
                "the columns file,x_mm,y_mm,z_mm or file,azimuth_deg,elevation_deg."
            )
        try:
            if row.get("x_mm"):
                place = [float(row[k]) for k in ("x_mm", "y_mm", "z_mm")]
                light = light_at(place)
            else:
                light = light_towards(float(row["azimuth_deg"]), float(row["elevation_deg"]))
        except (KeyError, TypeError, ValueError) as error:
            raise IronlaceError(
                f"The light of {name} is not given in numbers: fill x_mm,y_mm,z_mm or "
                "azimuth_deg,elevation_deg."
            ) from error
        if not np.isfinite(light.direction).all() or light.elevation_deg <= 0:
            raise IronlaceError(
                f"The light of {name} does not stand above the plate: z_mm, or the elevation, must "
                "be above 0."
            )
        found.append(light)
    return found


@contextmanager
def folder_for_relief(folder: Path) -> Iterator[Path]:
    """A folder to write a relief into, which appears whole or not at all.

    Raises IronlaceError when something else stands there.
    """

    def holds_a_relief_alone(there: Path) -> bool:
        return {path.name for path in there.iterdir()} <= WRITTEN

    with folder_in_place(folder, holds_a_relief_alone, "a relief alone") as making:
        yield making


def peak_mb() -> float:
    """Most memory this process has held so far, MB; 0 where the system does not tell."""
    try:
        import resource
    except ImportError:  # Windows
        return 0.0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1024**2 if sys.platform == "darwin" else 1024)


def check_told(looked: LiveCheck) -> dict[str, Any]:  # dict: a JSON document fixed for scripts
    """What the live check tells a script."""
    return {
        "frames": [
            {
                "file": one.name,
                "sharp": one.sharp,
                "moved_px": round(one.moved_px, 3),
                "saturated": round(one.saturated, 5),
                "ball_radius_px": None
                if one.ball_radius_px is None
                else round(one.ball_radius_px, 2),
                "torch": None
                if one.light is None
                else {
                    "azimuth_deg": round(one.light.azimuth_deg, 2),
                    "elevation_deg": round(one.light.elevation_deg, 2),
                },
            }
            for one in looked.frames
        ],
        "missing_quadrants": list(looked.missing_quadrants),
        "widest_gap_deg": None if looked.widest_gap is None else looked.widest_gap.width_deg,
        "enough": looked.enough,
        "faults": list(looked.faults),
    }


def relief_told(
    names: Sequence[str],
    captured: Captured,
    relief: Relief,
    seconds: float,
    peak_mb: float,
    checksums: Sequence[str] = (),
) -> dict[str, Any]:  # dict: a JSON document whose shape is fixed for scripts
    """What `relief.json` tells; `checksums` are the photographs' SHA-256, in their order."""
    plate = captured.plate
    told = []
    for n, name in enumerate(names):
        light, move = captured.lights[n], captured.moves[n]
        one: dict[str, Any] = {"file": name}
        if checksums:
            one["sha256"] = checksums[n]
        if light is not None and light.place is not None and plate.scale_known:
            one["light_mm"] = [round(float(v), 4) for v in light.place]
        elif light is not None:
            one["light_dir"] = [round(v, 7) for v in light.direction]
            if light.place is not None:
                one["light_px"] = [round(float(v), 2) for v in light.place]
        one["shift_px"] = [round(v, 4) for v in move.shift_px]
        one["turn_deg"] = round(float(np.degrees(move.turn_rad)), 6)
        gain = relief.gains[n]
        one["gain"] = round(gain, 5) if np.isfinite(gain) else None
        one["used"] = not captured.why[n]
        one["why"] = captured.why[n]
        told.append(one)
    gain_of = relief.slope_gain
    least, most = gain_of.depth_times
    return {
        "mm_per_px": plate.mm_per_px if plate.scale_known else None,
        "scale_known": plate.scale_known,
        "balls": [
            {
                "x": round(b.x, 4),
                "y": round(b.y, 4),
                "r_px": round(b.r, 4),
                "r_mm": round(b.r * plate.mm_per_px, 5) if plate.scale_known else None,
            }
            for b in captured.balls
        ],
        "frames": told,
        "slope_gain": {"value": gain_of.value, "low": gain_of.low, "high": gain_of.high},
        "depth_times": {"low": round(least, 4), "high": round(most, 4)},
        "lobe": {"strength": relief.lobe.strength, "exponent": relief.lobe.exponent},
        "other_light": round(relief.other.usual, 4) if relief.other.known else None,
        "tone_curve": relief.curve.figures(),
        "doubted": relief.doubted,
        "missing_quadrants": captured.missing_quadrants(),
        "coverage": round(relief.coverage, 5),
        "encoding": relief.encoding,
        "notices": list(relief.notices),
        "seconds": round(seconds, 2),
        "peak_mb": round(peak_mb, 1),
    }


def write_relief(
    folder: Path,
    relief: Relief,
    told: dict[str, Any],  # dict: a JSON document whose shape is fixed for scripts
) -> None:
    """Write normals, height, albedo and what is told of them into a folder that is there.

    The document comes last: a folder without it was not finished.
    """
    np.save(folder / "normals.npy", relief.normals, allow_pickle=False)
    height = relief.height.astype(np.float32, copy=False)
    np.save(folder / "height.npy", height, allow_pickle=False)
    Image.fromarray(relief.albedo).save(folder / "albedo.png", compress_level=1)
    text = json.dumps(told, ensure_ascii=False, indent=2) + "\n"
    (folder / "relief.json").write_text(text, encoding="utf-8")
