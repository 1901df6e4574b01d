import numpy as np
import pytest

from ironlace.marks.reading.bare_metal import (
    BareMetal,
    bare_metal,
    best_fits,
    evened,
    face_held,
    likelihood,
    likeness,
    moderated,
    overlaid,
)
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes, grain_of
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from struck_plates import face

TALL_PX = 48.0
PLACES = [Place("digit", 0, k, 150.0 + 60 * k, 130.0, TALL_PX) for k in range(6)]


@pytest.fixture(scope="module")
def reader():
    shapes = shapes_from_pictures(face("modern"))
    return shapes, ShapeReader({g: shapes[g] for g in "0237"})


def plate(seed, *, smooth, deep, shapes):
    """Noise of one size of detail, and a row of 2s so deep beneath it."""
    import cv2

    rng = np.random.default_rng(seed)
    slopes = rng.normal(0, 1, (2, 260, 620)).astype(np.float32)
    slopes = np.stack([cv2.GaussianBlur(one, (0, 0), smooth) for one in slopes])
    slopes *= 0.05 / slopes.std()
    depth = depth_left(shapes["2"][0], Blow(deep, 2.0, 0.0, planed=False, blur=0.6))
    for place in PLACES:
        x, y = int(place.x_px) - 24, int(place.y_px) - 30
        slopes[:, y : y + 60, x : x + 48] += slopes_of(placed(depth))
    return ReliefSlopes(slopes, 0.05)


def seen(relief, reader, *, even=0.0):
    grain = grain_of(relief, 1.0)
    bare = bare_metal(relief, PLACES, grain, np.random.default_rng(4))
    held = [held_down(relief.patch(p.x_px, p.y_px, 1.0, WIDE), grain) for p in PLACES]
    return bare, overlaid(reader.strikes, held, bare, even=even)


def test_a_struck_figure_fits_best(reader):
    shapes, read = reader
    _, some = seen(plate(1, smooth=0.7, deep=0.4, shapes=shapes), read)
    assert (best_fits(some, read.starts).argmax(axis=1) == 1).all()


def test_smooth_noise_leaves_fewer_independent_slopes(reader):
    shapes, read = reader
    fine = seen(plate(2, smooth=0.6, deep=0.0, shapes=shapes), read)[1]
    broad = seen(plate(2, smooth=2.5, deep=0.0, shapes=shapes), read)[1]
    assert broad.slopes < 0.4 * fine.slopes


def test_evened_bare_metal_has_all_sizes_of_detail_alike(reader):
    shapes, read = reader
    bare, _ = seen(plate(3, smooth=1.5, deep=0.0, shapes=shapes), read)
    patch = evened(np.array(bare.patches), bare.power)[:, :, 12:-12, 12:-12]
    power = (np.abs(np.fft.fft2(patch)) ** 2).mean(axis=(0, 1))
    n = power.shape[0] // 8
    assert 0.3 < power[1:n, 1:n].mean() / power[n : 2 * n, n : 2 * n].mean() < 3


def test_a_picture_of_the_digits_alone_has_no_bare_metal():
    tight = ReliefSlopes(np.full((2, 60, 400), 0.03, np.float32), 0.05)
    places = [Place("digit", 0, k, 40.0 + 60 * k, 30.0, TALL_PX) for k in range(6)]
    assert not bare_metal(tight, places, 0.03, np.random.default_rng(4))


def test_strokes_that_no_figure_holds_make_a_plate_unlike():
    rng = np.random.default_rng(4)

    def seen(slopes):
        return held_down(slopes.astype(np.float32), 0.03)

    bare = BareMetal(tuple(seen(rng.normal(0, 0.03, (2, *WIDE))) for _ in range(6)), np.ones(24))
    strokes = np.zeros((2, *WIDE))
    strokes[0, 15:55, 20:40] = 0.2 * np.sin(np.arange(20))
    places = [seen(strokes + rng.normal(0, 0.03, (2, *WIDE))) for _ in range(5)]
    assert likeness(places, bare, np.full(5, 0.6)) == 1.0
    assert likeness(places, bare, np.full(5, 0.2)) < 0.1
    assert likeness(bare.patches, bare, np.full(6, 0.05)) == 1.0
    assert likeness(places, BareMetal((), np.ones(24)), np.full(5, 0.2)) == 1.0
    assert face_held(places, bare, np.full(5, 0.6)) > 2 * face_held(places, bare, np.full(5, 0.4))
    assert face_held(places, bare, np.full(5, 1.5)) == 1.0
    assert face_held(bare.patches, bare, np.full(6, 0.05)) is None
    assert face_held(places, BareMetal((), np.ones(24)), np.full(5, 0.2)) is None


@pytest.mark.parametrize("fit", [0.25, 0.45, 0.6])
def test_chances_are_flattened_as_by_averaging_over_fits_that_are_off(fit):
    rng = np.random.default_rng(5)
    off, slopes, rival = 0.02, 200.0, fit - 0.015
    fits = np.clip(fit + rng.normal(0, off, 200_000), 0, 0.99)
    margin = likelihood(fits, slopes) - likelihood(np.array([rival]), slopes)
    averaged = (1 / (1 + np.exp(-margin))).mean()
    plain = float(np.diff(likelihood(np.array([rival, fit]), slopes))[0])
    flattened = 1 / (1 + np.exp(-float(moderated(np.array([fit]), slopes, off)[0]) * plain))
    assert flattened == pytest.approx(averaged, abs=0.02)
    assert flattened < 1 / (1 + np.exp(-plain)) - 0.01


def test_the_better_a_figure_fits_the_more_a_cut_that_is_off_costs():
    told = moderated(np.array([0.0, 0.2, 0.4, 0.6]), 200.0, 0.02)
    assert told[0] == 1.0
    assert (np.diff(told) < 0).all()
    assert (moderated(np.array([0.2, 0.6]), 200.0, 0.0) == 1.0).all()
