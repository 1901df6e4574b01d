"""What the lens does: focal length, principal point and Brown's distortion.

The distortion is that of Brown (1971, "Close-range camera calibration") in OpenCV's order
``k1, k2, p1, p2, k3``. Pixel centres have whole coordinates, as in OpenCV: the middle of the upper
left pixel is (0, 0).
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.intervals import NINETY
from ironlace.photographs.errors import LensError

Points = NDArray[np.float64]
CENTRE_OFF: Final = 0.03
"""Of the picture's width: no lens in order has its principal point farther off the middle, and one
whose file says no size is then another picture's. Three times what is believed of an uncalibrated
one; a judgement."""


@dataclass(frozen=True)
class Lens:
    """A camera's inner geometry.

    Attributes
    ----------
    focal_px
        Focal length in pixels along x and y.
    centre_px
        Principal point in pixels.
    distortion
        ``(k1, k2, p1, p2, k3)``.
    image_size
        Width and height of the photographs it holds for, or None if the file did not say.
    focal_sd_px
        One standard deviation of the focal length; 0 when the lens was given, not estimated.
    """

    focal_px: tuple[float, float]
    centre_px: tuple[float, float]
    distortion: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)
    image_size: tuple[int, int] | None = None
    focal_sd_px: float = 0.0

    @property
    def focal_off_90_px(self) -> float:
        """By how much the focal length along x may be off either way, at 90 %."""
        return NINETY * self.focal_sd_px

    @property
    def matrix(self) -> NDArray[np.float64]:
        """The 3x3 camera matrix."""
        (fx, fy), (cx, cy) = self.focal_px, self.centre_px
        return np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])

    def project(self, points: Points) -> Points:
        """Pixels of points in the camera's frame (z ahead), shape (n, 3) to (n, 2).

        >>> Lens((1000.0, 1000.0), (500.0, 400.0)).project(np.array([[0.1, 0.0, 1.0]]))
        array([[600., 400.]])
        """
        z = np.where(np.abs(points[..., 2]) < 1e-9, 1e-9, points[..., 2])
        x, y = points[..., 0] / z, points[..., 1] / z
        k1, k2, p1, p2, k3 = self.distortion
        r2 = x * x + y * y
        radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
        xd = x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x)
        yd = y * radial + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y
        return np.stack(
            [
                xd * self.focal_px[0] + self.centre_px[0],
                yd * self.focal_px[1] + self.centre_px[1],
            ],
            axis=-1,
        )

    def scaled_to(self, width: int, height: int) -> Lens:
        """The same lens for photographs of another size (all of the frame, resampled).

        Raises
        ------
        LensError
            If the shape differs, so that the photograph must have been cropped, or if the lens says
            no size and its principal point cannot be that of such a photograph.
        """
        if self.image_size is None:
            cx, cy = self.centre_px
            off = max(abs(cx - (width - 1) / 2), abs(cy - (height - 1) / 2)) / width
            if off > CENTRE_OFF:
                raise LensError(
                    f"The lens has its principal point at ({cx:.0f}, {cy:.0f}), which is far from "
                    f"the middle of a {width} x {height} photograph, so that it is of another size "
                    "or was cropped; give the uncropped photograph, or the lens of this picture "
                    'size with "image_size": [width, height] in it.'
                )
            return self
        w0, h0 = self.image_size
        if (w0, h0) == (width, height):
            return self
        sx, sy = width / w0, height / h0
        if abs(sx / sy - 1.0) > 0.01:
            raise LensError(
                f"The lens was calibrated on {w0} x {h0} photographs and this one is {width} x "
                f"{height}, another shape; use the uncropped photograph."
            )
        (fx, fy), (cx, cy) = self.focal_px, self.centre_px
        return Lens(
            (fx * sx, fy * sy),
            ((cx + 0.5) * sx - 0.5, (cy + 0.5) * sy - 0.5),
            self.distortion,
            (width, height),
            self.focal_sd_px * sx,
        )

    def to_json(self) -> str:
        """The lens as JSON: matrix, distortion and, if known, the image size."""
        data: dict[str, object] = {
            "matrix": self.matrix.tolist(),
            "distortion": list(self.distortion),
        }
        if self.image_size is not None:
            data["image_size"] = list(self.image_size)
        if self.focal_sd_px:
            data["focal_sd_px"] = self.focal_sd_px
        return json.dumps(data)

    @classmethod
    def from_json(cls, text: str) -> Lens:
        """Read ``{"matrix": 3x3, "distortion": [k1, k2, p1, p2, k3]}`` (``image_size`` optional).

        Raises
        ------
        LensError
            If the text is not such a description.
        """
        need = 'a lens reads {"matrix": 3x3 numbers, "distortion": [k1, k2, p1, p2, k3]}'
        try:
            data = json.loads(text)
            matrix = np.array(data["matrix"], dtype=np.float64)
            distortion = [float(v) for v in data.get("distortion", [])]
            size = data.get("image_size")
            image_size = None if size is None else (int(size[0]), int(size[1]))
            spread = float(data.get("focal_sd_px", 0.0))
        except (
            ValueError,
            TypeError,
            KeyError,
            IndexError,
            AttributeError,
            RecursionError,
        ) as error:
            raise LensError(f"The lens description cannot be read ({error}); {need}.") from error
        if matrix.shape != (3, 3) or not np.all(np.isfinite(matrix)):
            raise LensError(f"The lens matrix has shape {matrix.shape}; {need}.")
        if len(distortion) > 5 or not all(math.isfinite(v) for v in distortion):
            raise LensError(f"The lens has {len(distortion)} distortion numbers; {need}.")
        if matrix[0, 0] <= 0 or matrix[1, 1] <= 0 or abs(matrix[0, 1]) > 1e-6 * matrix[0, 0]:
            raise LensError(
                "The lens matrix must have positive focal lengths on its diagonal and no skew; "
                f"{need}."
            )
        k = (*distortion, 0.0, 0.0, 0.0, 0.0, 0.0)
        return cls(
            (float(matrix[0, 0]), float(matrix[1, 1])),
            (float(matrix[0, 2]), float(matrix[1, 2])),
            (k[0], k[1], k[2], k[3], k[4]),
            image_size,
            spread,
        )


@dataclass(frozen=True, slots=True)
class GivenLens:
    """A calibrated lens as a case gives it: matrix in pixels, and k1, k2, p1, p2, k3."""

    matrix: tuple[
        tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]
    ]
    distortion: tuple[float, ...] = ()

    @classmethod
    def from_json(cls, text: str) -> GivenLens:
        """A lens as the page of lenses tells it; raises LensError when the text tells none."""
        lens = Lens.from_json(text)
        (fx, fy), (cx, cy) = lens.focal_px, lens.centre_px
        return cls(((fx, 0.0, cx), (0.0, fy, cy), (0.0, 0.0, 1.0)), lens.distortion)

    @property
    def lens(self) -> Lens:
        """The lens itself; raises LensError when it is none."""
        if self.matrix[2] != (0.0, 0.0, 1.0) or len(self.distortion) not in (0, 4, 5):
            raise LensError(
                "The lens is no camera's: its matrix reads [[fx, 0, cx], [0, fy, cy], [0, 0, 1]] "
                "in pixels, and its distortion k1, k2, p1, p2, k3."
            )
        told = {"matrix": self.matrix, "distortion": self.distortion}
        return Lens.from_json(json.dumps(told))


def guessed_lens(width: int, height: int, focal_35mm: float | None = None) -> Lens:
    """A starting guess where nothing was calibrated.

    ``focal_35mm`` is the focal length the photograph's Exif gives for 35 mm film; that figure is by
    the frame's diagonal (43.27 mm, CIPA DCG-001). Without it a normal lens is assumed.
    """
    diagonal = math.hypot(width, height)
    focal = diagonal * (focal_35mm / 43.27 if focal_35mm else 0.85)
    return Lens((focal, focal), ((width - 1) / 2.0, (height - 1) / 2.0), image_size=(width, height))
