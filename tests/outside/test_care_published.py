"""Care against published values: viscosity, wicks, gears, thread forms, calendar days."""

from datetime import UTC, datetime

import pytest

from ironlace.care.change_gears import GearsAsked, change_gears
from ironlace.care.felt_wick import rise_limit_m, upright_s
from ironlace.care.oil_calendar import oil_calendar
from ironlace.care.oil_plan import Point, due_dates
from ironlace.care.oil_viscosity import MIDPOINTS, between, viscosity_at
from ironlace.care.thread_angle import DEPTH
from ironlace.care.thread_forms import thread_forms


@pytest.mark.parametrize(
    ("one", "other", "celsius", "printed", "within"),
    [
        # worked examples of ASTM D341 as printed by makers of viscosity calculators and textbooks
        ((40.0, 404.0), (100.0, 28.0), 60.0, 132.126, 1e-3),
        ((40.0, 68.0), (80.0, 14.85), 100.0, 8.8, 0.05),
        ((40.0, 32.0), (100.0, 5.4), 80.0, 8.5, 0.05),
    ],
)
def test_viscosity_between_two_temperatures(one, other, celsius, printed, within):
    assert between(celsius, one, other) == pytest.approx(printed, abs=within)


def test_vg_22_with_its_typical_figure_at_100():
    for celsius, expected in ((10, 95.75), (15, 71.29), (20, 54.29), (25, 42.21), (60, 11.13)):
        found = viscosity_at(float(celsius), 22.0, 4.3).mm2_s
        assert found[1] == pytest.approx(expected, abs=0.006)


def test_limits_of_iso_3448():
    # read in a secondary table of ISO 3448: low, high
    table = {2: (1.98, 2.42), 7: (6.12, 7.48), 22: (19.8, 24.2), 68: (61.2, 74.8), 100: (90, 110)}
    for grade, (low, high) in table.items():
        assert (MIDPOINTS[grade] * 0.9, MIDPOINTS[grade] * 1.1) == pytest.approx((low, high))
    assert len(MIDPOINTS) == 20


def test_a_wick_upright_and_level():
    # 30 mm in pores of 20 um, oil of 54.293 mm2/s: 148.5 s upright, 140.07 s level
    eta = 54.293e-6 * 860.0
    assert upright_s(0.030, 20e-6, eta, 860.0, 0.030) == pytest.approx(148.5, abs=0.05)
    # level: the same without weight, which an oil a thousand times lighter nearly is
    light = upright_s(0.030, 20e-6, eta, 0.86, 0.030)
    assert light == pytest.approx(140.07, abs=0.02)
    for pore, expected in ((10, 711.43), (20, 355.71), (50, 142.29)):
        assert rise_limit_m(pore * 1e-6, 860.0, 0.030) * 1000 == pytest.approx(expected, abs=0.01)


def test_eight_threads_an_inch_give_three_mm_by_127():
    found = change_gears(GearsAsked("8 tpi", (20, 120, 127, 40), pitch_mm=3.0))
    assert (found.trains[0].drivers, found.trains[0].driven) == ((120,), (127,))
    assert found.trains[0].error_ppm == 0.0


def test_a_lead_of_3_mm_from_a_lathe_of_constant_6():
    # Jones, Turning and Boring (1914): lathe constant 6, lead 3 mm: 90 to 127
    found = change_gears(GearsAsked("6 tpi", (90, 127, 50, 60), pitch_mm=3.0))
    assert found.trains[0].pitch_mm == pytest.approx(3.0, abs=1e-12)
    assert (found.trains[0].drivers, found.trains[0].driven) == ((90,), (127,))


def test_ba_threads_follow_their_rule():
    # BS 93: pitch 0.9^n mm, diameter 6 p^1.2 mm, both printed to two figures
    forms = [form for form in thread_forms() if form.family == "BA"]
    assert len(forms) == 17
    for n, form in enumerate(forms):
        assert form.pitch_mm == pytest.approx(0.9**n, abs=0.0051)
        assert form.major_mm == pytest.approx(6 * (0.9**n) ** 1.2, abs=0.06)
        assert form.angle_deg == 47.5


def test_numbered_unified_sizes_follow_their_rule():
    # ASME B1.1: 0.060 + 0.013 n inch
    for form in thread_forms():
        if form.family == "unified" and "/" not in form.size:
            number, tpi = map(int, form.size.split("-"))
            assert form.major_mm == pytest.approx(25.4 * (0.060 + 0.013 * number))
            assert form.pitch_mm == pytest.approx(25.4 / tpi)


def test_metric_coarse_pitches():
    # ISO 261, first choice, read in a secondary table
    coarse = {"M1.6": 0.35, "M2": 0.4, "M2.5": 0.45, "M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0}
    found = {form.size: form.pitch_mm for form in thread_forms()}
    assert {size: found[size] for size in coarse} == coarse


def test_threads_are_about_as_deep_in_every_standard():
    # BA 0.6 p (BS 93), Whitworth 0.640327 p (BS 84), metric and unified 0.613 p (ISO 724)
    assert min(0.6, 0.640327, 0.6134) < DEPTH < 0.640327


def test_a_folded_calendar_line_reads_back_whole():
    # RFC 5545, 3.1: unfold by taking out each CR LF with the one blank after it
    name = "Schiffchenbahn, " * 12
    text = oil_calendar(
        due_dates([Point(name, "2026-01-31", every_months=1)]), datetime(2026, 1, 1, tzinfo=UTC)
    )
    assert f"SUMMARY:Oil {name}".replace(",", "\\,") in text.replace("\r\n ", "")
