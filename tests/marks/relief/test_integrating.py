import numpy as np
import pytest

from ironlace.marks.relief.integrating import height_of_slopes


def closed_form(rows=180, columns=240):
    """A hill, ripples and a bend, with slopes to the right and up."""
    y, x = np.mgrid[:rows, :columns].astype(float)
    k, m = 2 * np.pi / 60, 2 * np.pi / 85
    hill = 20 * np.exp(-((x - 150) ** 2 + (y - 70) ** 2) / 900)
    z = 5 * np.sin(k * x) * np.cos(m * y) + 0.001 * (x - 100) ** 2 + hill
    right = 5 * k * np.cos(k * x) * np.cos(m * y) + 0.002 * (x - 100) - hill * (x - 150) / 450
    down = -5 * m * np.sin(k * x) * np.sin(m * y) - hill * (y - 70) / 450
    return z, right, -down


def frankot_chellappa(right, up):
    """The published integration by Fourier's series, its edges made periodic by reflection."""
    p = np.block([[right, -right[:, ::-1]], [right[::-1], -right[::-1, ::-1]]])
    q = np.block([[-up, -up[:, ::-1]], [up[::-1], up[::-1, ::-1]]])
    u = 2j * np.pi * np.fft.fftfreq(p.shape[1])[None, :]
    v = 2j * np.pi * np.fft.fftfreq(p.shape[0])[:, None]
    power = np.abs(u) ** 2 + np.abs(v) ** 2
    power[0, 0] = 1
    z = (np.conj(u) * np.fft.fft2(p) + np.conj(v) * np.fft.fft2(q)) / power
    z[0, 0] = 0
    return np.fft.ifft2(z).real[: right.shape[0], : right.shape[1]]


def test_exact_slopes_with_free_edges():
    z, right, up = closed_form()
    off = height_of_slopes(right, up) - (z - z.mean())
    assert np.sqrt((off**2).mean()) <= 1e-6 * np.ptp(z)


def test_no_worse_than_the_published_way():
    z, right, up = closed_form()
    theirs = frankot_chellappa(right, up)
    theirs = np.sqrt(((theirs - theirs.mean() - z + z.mean()) ** 2).mean()) / np.ptp(z)
    ours = np.sqrt(((height_of_slopes(right, up) - z + z.mean()) ** 2).mean()) / np.ptp(z)
    assert theirs < 0.02  # it is the same surface
    assert ours < theirs


def test_unknown_places_leave_the_rest_as_it_is():
    z, right, up = closed_form()
    y, x = np.mgrid[: z.shape[0], : z.shape[1]]
    known = np.hypot(x - 60, y - 120) > 30
    right[~known], up[~known] = 9.0, -9.0
    off = height_of_slopes(right, up, known) - z
    off -= off[known].mean()
    assert np.sqrt((off[known] ** 2).mean()) < 1e-3 * np.ptp(z)


def test_nothing_known_is_flat():
    flat = height_of_slopes(np.ones((9, 9)), np.ones((9, 9)), np.zeros((9, 9), bool))
    assert not flat.any()


@pytest.mark.parametrize("shape", [(1, 40), (40, 1), (3, 5)])
def test_narrow_pictures(shape):
    y, x = np.mgrid[: shape[0], : shape[1]].astype(float)
    z = 0.3 * x - 0.2 * y
    found = height_of_slopes(np.full(shape, 0.3), np.full(shape, 0.2))
    np.testing.assert_allclose(found, z - z.mean(), atol=1e-9)
