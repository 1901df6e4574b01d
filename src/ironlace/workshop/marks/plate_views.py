"""Pictures of a plate's relief as anyone may take them along: the same bytes for page and command.

Each PNG carries in its text chunks where the torch stood, the look and its model, the photographs'
SHA-256 and the version of the program, so that whoever holds it can make it again.
"""

import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, PngImagePlugin

from ironlace import __version__
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.marks.errors import MarksError
from ironlace.marks.relief.reflectance import Lobe
from ironlace.marks.seeing.looks import MODELS, Look, Seen, seen
from ironlace.marks.seeing.relighting import Surface, Torch

SCREEN_PX = 1500
"""Longer side of what a page shows: a digit of 2.4 mm is then 90 pixels high on a 40 mm plate."""
FEWEST_PX = 64
"""Longer side below which a view shows nothing."""
FIRST_TORCH = Torch(135.0, 15.0)
"""Raking from the upper left, as drawings have been lit since there was print."""
_UNREADABLE = (OSError, ValueError, EOFError, KeyError, TypeError, AttributeError, IndexError)
"""What reading a spoilt relief raises."""
_NO_LOBE = {"strength": 0.0, "exponent": 10.0}


@dataclass(frozen=True, slots=True)
class View:
    """What is to be seen of a relief; `most_px` bounds the longer side, None leaves it whole."""

    look: Look = "raking"
    torch: Torch = FIRST_TORCH
    most_px: int | None = None


@dataclass(frozen=True, slots=True)
class ViewMade:
    """A view as PNG, and what its text chunks tell."""

    png: bytes
    told: dict[str, Any]


def surface_of(
    folder: Path, most_px: int | None = None
) -> tuple[Surface, dict[str, Any]]:  # dict: the relief's document, fixed for scripts
    """The surface of a relief's folder, made smaller if asked, and what its document tells.

    Raises
    ------
    NotFoundError
        When there is no relief in the folder.
    IronlaceError
        When it cannot be read.
    """
    told, _ = relief_document(folder)
    try:
        normals = np.load(folder / "normals.npy", mmap_mode="r", allow_pickle=False)
        height = np.load(folder / "height.npy", mmap_mode="r", allow_pickle=False)
        with Image.open(folder / "albedo.png") as picture:
            albedo = np.asarray(picture.convert("L"), dtype=np.uint8)
        shine = {**_NO_LOBE, **told.get("lobe", {})}
        lobe = Lobe(float(shine["strength"]), float(shine["exponent"]))
        scale = float(told["mm_per_px"]) if told.get("scale_known") else None
    except FileNotFoundError as error:
        raise _no_relief(folder) from error
    except _UNREADABLE as error:
        raise _unreadable(folder) from error
    shapes = {normals.shape[:2], height.shape, albedo.shape}
    if len(shapes) != 1:
        raise IronlaceError(
            f"Normals, height and albedo in {folder} differ in size: make the relief anew."
        )
    step = 1.0
    if most_px is not None:
        step = max(max(albedo.shape) / most_px, 1.0)
    surface = Surface(
        _smaller(normals, step),
        _smaller(height, step),
        _smaller(albedo, step),
        lobe,
        None if scale is None else scale * step,
    )
    return surface, told


def relief_document(
    folder: Path,
) -> tuple[dict[str, Any], tuple[int, int]]:  # dict: a document fixed for scripts
    """What `relief.json` tells, and the relief's columns and rows.

    Raises
    ------
    NotFoundError
        When there is no relief in the folder.
    IronlaceError
        When it cannot be read.
    """
    try:
        told = json.loads((folder / "relief.json").read_text(encoding="utf-8"))
        shape = np.load(folder / "normals.npy", mmap_mode="r", allow_pickle=False).shape
    except FileNotFoundError as error:
        raise _no_relief(folder) from error
    except _UNREADABLE as error:
        raise _unreadable(folder) from error
    if not (isinstance(told, dict) and _lists_frames(told) and len(shape) == 3 and shape[2] == 3):
        raise _unreadable(folder)
    return told, (int(shape[1]), int(shape[0]))


def relief_is_whole(folder: Path) -> bool:
    """Whether a relief lies in a folder with all its files, none of them cut short."""
    try:
        relief_document(folder)
        np.load(folder / "height.npy", mmap_mode="r", allow_pickle=False)
        with Image.open(folder / "albedo.png") as picture:
            picture.verify()
    except (IronlaceError, SyntaxError, *_UNREADABLE):  # a spoilt PNG is told as wrong syntax
        return False
    return True


def _lists_frames(told: dict[str, Any]) -> bool:  # dict: the relief's document
    frames = told.get("frames", [])
    return isinstance(frames, list) and all(isinstance(one, dict) for one in frames)


def _no_relief(folder: Path) -> NotFoundError:
    return NotFoundError(
        f"There is no whole relief in {folder} (normals.npy, height.npy, albedo.png, "
        "relief.json): make one with marks relief first."
    )


def _unreadable(folder: Path) -> IronlaceError:
    return IronlaceError(f"The relief in {folder} cannot be read: make it anew with marks relief.")


def view_of(folder: Path, view: View) -> ViewMade:
    """A view of a relief's folder.

    Raises IronlaceError when the folder holds none, or it cannot be seen so.
    """
    if view.most_px is not None and view.most_px < FEWEST_PX:
        raise MarksError(
            f"A view of {view.most_px} pixels shows nothing: ask for {FEWEST_PX} or more."
        )
    return view_on(*surface_of(folder, view.most_px), view)


def view_on(
    surface: Surface,
    relief: dict[str, Any],  # dict: the relief's document, fixed for scripts
    view: View,
) -> ViewMade:
    """A view of a surface at hand; `relief` is what its document tells."""
    shown = seen(surface, view.look, view.torch)
    told = _told(surface, relief, view, shown)
    chunks = PngImagePlugin.PngInfo()
    chunks.add_text("Software", f"Ironlace {__version__}")
    chunks.add_text("Description", told["description"])
    chunks.add_text("Ironlace view", json.dumps(told, sort_keys=True))
    out = io.BytesIO()
    per_metre = None if surface.mm_per_px is None else 1000.0 / surface.mm_per_px
    dpi = None if per_metre is None else (per_metre * 0.0254,) * 2
    Image.fromarray(shown.grey).save(out, "PNG", pnginfo=chunks, **({"dpi": dpi} if dpi else {}))
    return ViewMade(out.getvalue(), told)


def screen_planes(surface: Surface) -> bytes:
    """What a page lights by itself: for each pixel eight bytes, in two planes of four.

    The first plane holds the normal's X and Y, each from -1 to 1 in 16 bits, high byte first; the
    second the albedo over four times the middling one, in 8 bits, whether the place is known
    (255), and two bytes of nothing.
    """
    known = surface.normals[..., 2] > 0
    rows, columns = known.shape
    first = np.zeros((rows, columns, 2), ">u2")
    first[...] = np.round((np.clip(surface.normals[..., :2], -1, 1) + 1) * 32767.5)
    second = np.zeros((rows, columns, 4), np.uint8)
    part = surface.albedo.astype(np.float32) / (4 * surface.middling())
    second[..., 0] = np.round(np.clip(part, 0, 1) * 255)
    second[..., 1] = np.where(known, 255, 0)
    return first.tobytes() + second.tobytes()


def _told(
    surface: Surface,
    relief: dict[str, Any],  # dict: the relief's document, fixed for scripts
    view: View,
    shown: Seen,
) -> dict[str, Any]:  # dict: a JSON document for whoever holds the picture
    by_torch = shown.black is None
    told: dict[str, Any] = {
        "look": view.look,
        "model": MODELS[view.look],
        "torch_azimuth_deg": float(view.torch.azimuth_deg) if by_torch else None,
        "torch_elevation_deg": float(view.torch.elevation_deg) if by_torch else None,
        "pixels": list(shown.grey.shape[::-1]),
        "mm_per_px": surface.mm_per_px,
        "photographs": [
            {"file": one.get("file"), "sha256": one.get("sha256"), "used": one.get("used")}
            for one in relief.get("frames", [])
        ],
        "version": __version__,
        "grade": "inferred",
    }
    if view.look == "raking":
        told["lobe"] = {"strength": surface.lobe.strength, "exponent": surface.lobe.exponent}
    if not by_torch:
        told |= {"black": shown.black, "white": shown.white, "unit": shown.unit}
    told["description"] = described(told)
    return told


def described(told: dict[str, Any]) -> str:  # dict: what a view's text chunk tells
    """A view in one sentence."""
    of = sum(bool(one["used"]) for one in told["photographs"])
    source = f"from {of} photographs" if of else "from a relief"
    if told["torch_azimuth_deg"] is None:
        return (
            f"{told['look'].capitalize()} {source}: black is {told['black']:.3g}, white "
            f"{told['white']:.3g} {told['unit']}; inferred."
        )
    words = "The plate relit" if told["look"] == "raking" else "The plate's form lit"
    return (
        f"{words} by a torch at azimuth {told['torch_azimuth_deg']:g}, elevation "
        f"{told['torch_elevation_deg']:g} degrees, {source}; cast shadows are not drawn; inferred."
    )


def _smaller(field: NDArray[Any], step: float) -> NDArray[Any]:
    if step <= 1.0:
        return np.asarray(field)
    size = (max(round(field.shape[1] / step), 1), max(round(field.shape[0] / step), 1))
    small = cv2.resize(np.asarray(field), size, interpolation=cv2.INTER_AREA)
    if small.ndim == 3:  # means of unit vectors are shorter
        length = np.linalg.norm(small, axis=2, keepdims=True)
        small = np.where(length > 0.5, small / np.maximum(length, 1e-6), 0).astype(np.float32)
    return small
