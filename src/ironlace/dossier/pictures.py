"""Smaller copies of viewing copies, for print and for screens."""

import io
from collections.abc import Iterable
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from ironlace.dossier.account.blocks import PictureFile
from ironlace.dossier.errors import PictureRefusedError

_QUALITY = 84
"""Of JPEG: beyond it files grow and nothing is seen to gain; common practice, no source."""

_JPEG_ENDS = b"\xff\xd9"
"""The marker that ends a whole JPEG file (ISO/IEC 10918-1, EOI)."""

_MOST_PIXELS = 200_000_000
"""More than any camera gives a viewing copy; a bound on memory."""


def copies(picture: PictureFile, long_edges: Iterable[int]) -> dict[int, tuple[bytes, int, int]]:
    """Make JPEG copies whose longer edge is at most so many pixels.

    Parameters
    ----------
    long_edges
        Pixels of the longer edge. A picture is never enlarged.

    Returns
    -------
    copies
        For each edge asked for: the JPEG, its width and its height.

    Raises
    ------
    PictureRefusedError
        When the file cannot be read as a picture.
    """
    edges = sorted(set(long_edges), reverse=True)
    longest = max(picture.width, picture.height)
    ready = {edge: picture.ready.get(min(edge, longest)) for edge in edges}
    found = {edge: _as_it_is(path) for edge, path in ready.items() if path is not None}
    edges = [edge for edge in edges if edge not in found]
    return found | (_drawn_smaller(picture, edges) if edges else {})


def _as_it_is(path: Path) -> tuple[bytes, int, int]:
    """A copy that is there already; one that was cut short is refused."""
    try:
        jpeg = path.read_bytes()
        with Image.open(io.BytesIO(jpeg)) as opened:
            if opened.format != "JPEG" or not jpeg.endswith(_JPEG_ENDS):
                raise _unreadable(path, "it is cut short")
            return jpeg, opened.width, opened.height
    except (OSError, UnidentifiedImageError, SyntaxError) as error:
        raise _unreadable(path, error) from error


def _unreadable(path: Path, why: object) -> PictureRefusedError:
    return PictureRefusedError(
        f"'{path.name}' cannot be read as a picture ({why}): make its viewing copy again from the "
        "original."
    )


def _drawn_smaller(picture: PictureFile, edges: list[int]) -> dict[int, tuple[bytes, int, int]]:
    """The copies of falling size, each from the one before."""
    try:
        with Image.open(picture.path) as opened:
            if opened.width * opened.height > _MOST_PIXELS:
                raise PictureRefusedError(
                    f"'{picture.path.name}' has {opened.width} by {opened.height} pixels: a "
                    f"viewing copy may have {_MOST_PIXELS:,} at most."
                )
            opened.draft("RGB", (edges[0], edges[0]))  # lets JPEG decode at a fraction of its size
            upright = _on_white(ImageOps.exif_transpose(opened))
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError, SyntaxError) as error:
        raise _unreadable(picture.path, error) from error
    upright.info = {}  # a comment in the file is nobody's business
    made: dict[int, tuple[bytes, int, int]] = {}
    for edge in edges:
        upright.thumbnail((edge, edge), Image.Resampling.LANCZOS)
        out = io.BytesIO()
        upright.save(out, "JPEG", quality=_QUALITY, optimize=True, progressive=False)
        made[edge] = out.getvalue(), upright.width, upright.height
    return made


def cut_out(
    picture: PictureFile, share: tuple[float, float, float, float], longest: int
) -> tuple[bytes, int, int]:
    """Cut a part out of a picture, as a JPEG whose longer edge is at most so many pixels.

    Parameters
    ----------
    share
        Left, top, right and bottom of the part, as shares of the picture's width and height.

    Returns
    -------
    cut
        The JPEG, its width and its height.

    Raises
    ------
    PictureRefusedError
        When the file cannot be read as a picture.
    """
    left, top, right, bottom = share
    try:
        with Image.open(picture.path) as opened:
            width, height = opened.size
            box = (left * width, top * height, right * width, bottom * height)
            scale = min(1.0, longest / max(box[2] - box[0], box[3] - box[1]))
            size = tuple(max(1, round(scale * (box[k + 2] - box[k]))) for k in (0, 1))
            cut = _on_white(opened).resize((size[0], size[1]), Image.Resampling.LANCZOS, box=box)
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError, SyntaxError) as error:
        raise _unreadable(picture.path, error) from error
    out = io.BytesIO()
    cut.info = {}
    cut.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue(), cut.width, cut.height


def _on_white(image: Image.Image) -> Image.Image:
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        layered = image.convert("RGBA")
        ground = Image.new("RGBA", layered.size, "white")
        ground.alpha_composite(layered)
        return ground.convert("RGB")
    return image.convert("RGB")
