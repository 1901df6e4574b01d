"""Torch directions from the plate itself, where neither ball nor measure tells them.

All light of a matt surface under far torches has rank three (Hayakawa, 1994). Torches of one
strength fix the surface up to a turn; a plate that is flat on the whole faces the camera, and
slopes that belong to a height (no curl) fix the turn about that. What no photograph can tell
remains: how high the relief is (it may be stretched along the view, with the torches' heights to
match: Belhumeur, Kriegman and Yuille, 1999) and whether marks are sunk or raised; they are taken
to be sunk.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.lights import Light
from ironlace.marks.errors import MarksError

AMBIGUOUS = (
    "The torch's places are not known: heights may all be too great or too small by one factor, "
    "the whole may lean, and marks are taken to be sunk, not raised. Trust shapes, not depths."
)
"""Said of every relief that was made so."""


def guessed_lights(pictures: NDArray[np.float32]) -> list[Light]:
    """Directions to the torches from small straightened photographs in linear light.

    Parameters
    ----------
    pictures
        Photographs x rows x columns.

    Raises
    ------
    MarksError
        When the light does not vary enough to tell three directions.
    """
    count, rows, columns = pictures.shape
    flat = pictures.reshape(count, -1).astype(np.float64)
    low, high = np.percentile(flat, [3, 97], axis=1, keepdims=True)
    good = ((flat > low) & (flat < high)).mean(0) > 0.8
    if good.sum() < 500 or count < 6:
        raise MarksError(
            f"{count} photographs are too few to guess the torch's places from: give 6 at least."
        )
    # exposures: every photograph of a flat plate is taken to be as bright as its torch is high
    u, s, vt = np.linalg.svd(flat[:, good], full_matrices=False)
    if s[2] < 1e-3 * s[0]:
        raise MarksError(
            "The light hardly changes between these photographs: move the torch all round the "
            "plate."
        )
    torches, surface = u[:, :3] * s[:3], vt[:3]
    metric = _metric(torches)
    torches, surface = torches @ metric, np.linalg.solve(metric, surface)
    # the plate faces the camera
    mean = surface.mean(1)
    if (torches @ mean).mean() < 0:
        mean = -mean
    turn = _turn_to_z(mean / np.linalg.norm(mean))
    torches = torches @ turn.T
    whole = turn @ np.linalg.solve(metric, (np.linalg.pinv(u[:, :3] * s[:3]) @ flat))
    angle, mirrored = _turn_without_curl(whole.reshape(3, rows, columns))
    cos, sin = np.cos(angle), np.sin(angle)
    spin = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])
    if mirrored:
        spin = spin @ np.diag([1.0, -1.0, 1.0])
    torches = torches @ spin.T
    whole = spin @ whole
    if _are_raised(whole.reshape(3, rows, columns)):
        torches = torches * np.array([-1.0, -1.0, 1.0])
    found = []
    for x, y, z in torches / np.linalg.norm(torches, axis=1, keepdims=True):
        found.append(Light((float(x), float(y), float(max(z, 0.05)))))
    return found


def _metric(torches: NDArray[np.float64]) -> NDArray[np.float64]:
    """The 3 x 3 matrix that gives all torches one strength, as far as one can."""
    x, y, z = torches.T
    design = np.stack([x * x, y * y, z * z, 2 * x * y, 2 * x * z, 2 * y * z], 1)
    a, b, c, d, e, f = np.linalg.lstsq(design, np.ones(len(x)), rcond=None)[0]
    square = np.array([[a, d, e], [d, b, f], [e, f, c]])
    values, vectors = np.linalg.eigh(square)
    values = np.maximum(values, 1e-3 * values.max())
    return np.asarray(vectors * np.sqrt(values))


def _turn_to_z(mean: NDArray[np.float64]) -> NDArray[np.float64]:
    """A rotation that lays a unit vector on Z (Rodrigues)."""
    cross = np.array([mean[1], -mean[0], 0.0])
    cos = float(mean[2])
    if cos < -0.999999:
        return np.diag([1.0, -1.0, -1.0])
    k = np.array([[0, -cross[2], cross[1]], [cross[2], 0, -cross[0]], [-cross[1], cross[0], 0]])
    return np.asarray(np.eye(3) + k + k @ k / (1 + cos))


def _slopes(scaled: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    z = np.maximum(scaled[2], 0.2 * np.median(scaled[2]))
    return np.clip(-scaled[0] / z, -1, 1), np.clip(-scaled[1] / z, -1, 1)


def _turn_without_curl(scaled: NDArray[np.float64]) -> tuple[float, bool]:
    """Turn about Z, and whether mirrored, that leave slopes with least curl."""
    best = (np.inf, 0.0, False)
    right, up = _slopes(scaled)
    for mirrored in (False, True):
        v = -up if mirrored else up
        for angle in np.radians(np.arange(0, 180, 1.0)):
            p = np.cos(angle) * right - np.sin(angle) * v
            q = np.sin(angle) * right + np.cos(angle) * v
            curl = np.diff(q, axis=1)[1:] + np.diff(p, axis=0)[:, 1:]  # rows run down
            cost = float(np.median(np.abs(curl)))
            if cost < best[0]:
                best = (cost, float(angle), mirrored)
    return best[1], best[2]


def _are_raised(scaled: NDArray[np.float64]) -> bool:
    """Whether what stands out of the plate's ground rises."""
    from ironlace.marks.relief.integrating import height_of_slopes

    right, up = _slopes(scaled)
    height = height_of_slopes(right - np.median(right), up - np.median(up))
    height = height - np.median(height)
    return bool((height**3).mean() > 0)
