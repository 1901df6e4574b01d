"""Smaller copies of viewing copies, for print and for screens."""

import io
from collections.abc import Iterable

from PIL import Image, ImageOps, UnidentifiedImageError

from ironlace.dossier.account.blocks import PictureFile
from ironlace.dossier.errors import PictureRefusedError

_QUALITY = 84
"""Of JPEG: beyond it files grow and nothing is seen to gain; common practice, no source."""

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
        raise PictureRefusedError(
            f"'{picture.path.name}' cannot be read as a picture ({error}): make its viewing copy "
            "again from the original."
        ) from error
    upright.info = {}  # a comment in the file is nobody's business
    made: dict[int, tuple[bytes, int, int]] = {}
    for edge in edges:
        upright.thumbnail((edge, edge), Image.Resampling.LANCZOS)
        out = io.BytesIO()
        upright.save(out, "JPEG", quality=_QUALITY, optimize=True, progressive=False)
        made[edge] = out.getvalue(), upright.width, upright.height
    return made


def _on_white(image: Image.Image) -> Image.Image:
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        layered = image.convert("RGBA")
        ground = Image.new("RGBA", layered.size, "white")
        ground.alpha_composite(layered)
        return ground.convert("RGB")
    return image.convert("RGB")
