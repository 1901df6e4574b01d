"""Curves round the wheel: between readings, past misread ones, with an honest doubt."""

import numpy as np
import pytest

from ironlace.stand.periodic import Readings, fit_periodic, noise_told, series

WHEEL = np.deg2rad(np.arange(0.0, 360.0, 30.0))
FINE = np.deg2rad(np.arange(0.0, 360.0, 1.0))


def curve(t):
    # a crank's rise by its closed formula, no series
    return 12.0 * (1 - np.cos(t - 0.4)) + 40.0 * (1 - np.sqrt(1 - (0.3 * np.sin(t - 0.4)) ** 2))


def test_the_peak_between_two_readings_is_found():
    fit = fit_periodic(Readings(WHEEL, curve(WHEEL), 0.0), 0.02)
    assert curve(FINE).max() - curve(WHEEL).max() > 0.06
    assert (series(FINE) @ fit.mean).max() == pytest.approx(curve(FINE).max(), abs=0.05)


def test_misread_figures_are_told_and_do_no_harm():
    rng = np.random.default_rng(3)
    values = curve(WHEEL) + 0.3 * rng.standard_normal(len(WHEEL))
    values[3] += 7.0
    values[8] -= 6.0
    fit = fit_periodic(Readings(WHEEL, values, np.deg2rad(1.5)), 0.35)
    assert np.flatnonzero(fit.misread > 0.5).tolist() == [3, 8]
    assert np.abs(series(FINE) @ fit.mean - curve(FINE)).max() < 1.2


def test_where_all_are_trusted_none_is_left_out():
    values = curve(WHEEL)
    values[3] += 7.0
    fit = fit_periodic(Readings(WHEEL, values, 0.0, misread_share=0.0), 0.35)
    assert fit.misread.max() == 0.0


def test_draws_stand_about_the_mean_with_the_doubt_of_the_readings():
    rng = np.random.default_rng(5)
    values = curve(WHEEL) + 0.35 * rng.standard_normal(len(WHEEL))
    fit = fit_periodic(Readings(WHEEL, values, 0.0), 0.35)
    drawn = fit.drawn(3000, rng) @ series(FINE).T
    assert np.abs(drawn.mean(axis=0) - series(FINE) @ fit.mean).max() < 0.05
    assert 0.1 < drawn.std(axis=0).mean() < 0.35


def test_the_noise_is_learned_from_the_scatter():
    rng = np.random.default_rng(6)
    tried = (0.1, 0.2, 0.4, 0.8, 1.6)
    told = sum(
        noise_told(
            Readings(WHEEL, curve(WHEEL) + 0.4 * rng.standard_normal(len(WHEEL)), 0.0), 0.35, tried
        )
        for _ in range(8)
    )
    assert tried[int(np.argmax(told))] == 0.4


def test_the_slope_of_the_series_is_its_derivative():
    step = 1e-6
    rise = (series(FINE + step) - series(FINE - step)) / (2 * step)
    assert np.allclose(rise, series(FINE, slope=1), atol=1e-6)
