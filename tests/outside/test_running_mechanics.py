"""Published values of the mechanics of sewing, held against the running room."""

import numpy as np
import pytest

from ironlace.evidence.analyses import Known, Nothing
from ironlace.evidence.progress import Steps
from ironlace.running.motion.curves import CamCurve, slider_crank
from ironlace.running.motion.joint_fit import Readings, fit_motions
from ironlace.running.needles.thread_sizes import COTTON, diameter_mm, sizes_of, tex_of
from ironlace.running.needles.thread_use import ThreadUseAsked, thread_use
from ironlace.running.tension.thread_path import capstan, read_path, tension_along


@pytest.mark.parametrize(
    ("radius", "ratio", "degrees", "rise"),
    [
        # geometry of the slider-crank (any text on kinematics), figures worked by hand
        (15.0, 1 / 3, 20.0, 1.1980),
        (15.0, -1 / 3, 20.0, 0.6112),
        (15.0, 0.0, 20.0, 0.9046),
        (15.0, 1 / 3, 90.0, 17.5736),
        (15.0, 1 / 3, 180.0, 30.0),
        (15.0, 1 / 3, 27.302, 2.2),
        (17.0, 17 / 60, 24.845, 2.0),
    ],
)
def test_a_slider_crank_rises_as_the_textbooks_have_it(radius, ratio, degrees, rise):
    found, _, _ = slider_crank(np.radians([degrees]), radius, ratio)
    assert found[0] == pytest.approx(rise, abs=2e-4)


def test_a_slider_moves_as_a_worked_example_has_it():
    # course notes, "Slider-crank Analysis" (Mathcad sheet): at 45 degrees and 1 rad/s the rod
    # stands at 159.295 degrees and turns by 0.378 rad/s, which is a crank of half its rod; the
    # slider moves by 9.744 in/s, which is a crank of 10 in
    ratio = np.sin(np.radians(180.0 - 159.295)) / np.sin(np.radians(45.0))
    assert ratio == pytest.approx(0.5, abs=1e-4)
    _, slope, _ = slider_crank(np.radians([45.0]), 10.0, 0.5)
    assert slope[0] == pytest.approx(9.744, abs=5e-4)


def test_a_rods_middle_is_driven_as_a_textbooks_example_has_it():
    # R. S. Khurmi, J. K. Gupta, Theory of Machines, ch. 8, as set and solved by drawing on pages of
    # engineering courses: crank 150 mm, rod 600 mm, 300 rpm, 45 degrees: the middle of the rod is
    # accelerated by 117 m/s2; ch. 7: crank 125, rod 500, 600 rpm: the slider moves at 6.45 m/s
    turning, at = 300.0 * 2.0 * np.pi / 60.0, np.radians([45.0])
    _, _, bend = slider_crank(at, 0.150, 0.25)
    along = 0.5 * turning**2 * (bend[0] + 0.150 * np.cos(at[0]))
    across = 0.5 * turning**2 * 0.150 * np.sin(at[0])
    assert np.hypot(along, across) == pytest.approx(117.0, abs=1.0)
    _, slope, _ = slider_crank(at, 0.125, 0.25)
    assert 2.0 * turning * slope[0] == pytest.approx(6.45, rel=0.02)  # drawn, not computed


@pytest.mark.parametrize(
    ("friction", "degrees", "factor"),
    [
        # values of T2/T1 = e^(mu theta): Morton and Hearle, Physical Properties of Textile Fibres
        (0.10, 90, 1.1701),
        (0.15, 180, 1.6020),
        (0.20, 270, 2.5663),
        (0.30, 360, 6.5861),
        (0.40, 360, 12.3453),
        (0.60, 1800, 153552935),
    ],
)
def test_a_wrap_multiplies_the_tension_as_the_table_has_it(friction, degrees, factor):
    assert capstan(friction, degrees) == pytest.approx(factor, rel=5e-5)


def test_a_whole_path_adds_at_the_discs_and_multiplies_at_the_guides():
    point = '[[point]]\nkind = "{}"\nwrap_deg = {}\n'
    kinds = [("guide", 90), ("guide", 60), ("discs", 0), ("take-up", 180), ("guide", 90)]
    text = "".join(point.format(*one) for one in [*kinds, ("eye", 45)])
    along = tension_along(read_path(text), 5.0, 0.2, 100.0)
    assert along[1] == pytest.approx(8.4405, abs=1e-4)
    assert along[2] == pytest.approx(48.4405, abs=1e-4)
    assert along[-1] == pytest.approx(145.4588, abs=1e-3)


def test_counts_convert_as_iso_1144_and_the_trades_bulletins_have_them():
    assert pytest.approx(590.54, abs=0.005) == COTTON
    assert sizes_of(40.0)["metric ticket"] == pytest.approx(75.0)
    assert tex_of(40, "cotton count", 2) == pytest.approx(29.5, abs=0.05)
    assert tex_of(120, "metric ticket") == pytest.approx(25.0)
    assert sizes_of(30.0)["denier"] == pytest.approx(270.0)
    assert sizes_of(30.0)["cotton count"] * 270.0 == pytest.approx(5315.0, rel=1e-4)


def test_counts_convert_by_the_factors_of_a_standard_in_step_with_iso_2947():
    # ASTM D2260, table 1 and its second example, by its scope consistent with ISO 2947: cotton
    # count 590.541 / tex, denier 5314.87 / cotton count and 9 tex; 30 tex is cotton count 19.7
    assert pytest.approx(590.541, abs=5e-4) == COTTON
    assert sizes_of(30.0)["cotton count"] == pytest.approx(19.7, abs=0.05)
    assert sizes_of(tex_of(1.0, "cotton count"))["denier"] == pytest.approx(5314.87, abs=0.01)
    assert tex_of(900.0, "denier") == pytest.approx(100.0)


def test_cotton_threads_laid_side_by_side_are_as_many_as_taylor_prints():
    # J. T. Taylor, Cotton Weaving and Designing, 6th ed.: 106.5, 156 and 213 threads to the inch
    for count, printed in ((15, 106.5), (32, 156.0), (60, 213.0)):
        thick = diameter_mm(tex_of(count, "cotton count"), 1.52, 0.581)
        assert 25.4 / thick == pytest.approx(printed, rel=0.005)


@pytest.mark.parametrize(
    ("stitch", "thick", "balance", "needle", "bobbin", "both"),
    [
        # stitch type 301, C = 2 + 2 T S: 0.01 in thick at 10 to the inch gives 2.2 in print
        (2.54, 0.254, 0.5, 1.1, 1.1, 2.2),
        (2.5, 0.8, 0.5, 3.3 / 2.5, 3.3 / 2.5, 2.64),
        (2.5, 0.8, 0.7, 3.62 / 2.5, 2.98 / 2.5, 2.64),
        (2.0, 1.5, 0.5, 1.75, 1.75, 3.5),
    ],
)
def test_a_lockstitch_takes_the_thread_that_is_published(
    stitch, thick, balance, needle, bobbin, both
):
    asked = ThreadUseAsked(Known(stitch, None, "mm"), Known(thick, None, "mm"), balance)
    found = thread_use(Nothing(), asked, Steps())
    each = (found.needle[0], found.bobbin[0], found.both[0])
    assert each == pytest.approx((needle, bobbin, both))


def test_thread_through_the_cloth_grows_with_its_thickness_as_a_printed_chart_has_it():
    # a chart for stitch type 401, 8 to the inch, reprinted in a thread trade's technical bulletin
    # (archived 2008): inches of thread to an inch of seam by its thickness in inches. A chain
    # stitch lies four times along the cloth where a lockstitch lies twice, and goes through alike
    chart = {0.055: 4.88, 0.060: 4.96, 0.065: 5.04, 0.070: 5.12, 0.075: 5.20}
    for thick, printed in chart.items():
        asked = ThreadUseAsked(Known(25.4 / 8.0, None, "mm"), Known(25.4 * thick, None, "mm"))
        both = thread_use(Nothing(), asked, Steps()).both[0]
        assert both + 2.0 == pytest.approx(printed, abs=5e-3)


def waves(angle, order):
    each = np.outer(angle, np.arange(1, order + 1))
    return np.hstack((np.ones((len(angle), 1)), np.cos(each), np.sin(each)))


def cam_by_both(order, count, rng):
    """How far a chosen and the fixed order lie from a cam's curve and each other, and the choice.

    The order is chosen by Schwarz's criterion among least squares of statsmodels.
    """
    from statsmodels.regression.linear_model import OLS

    steps, fine = np.arange(1, order + 1), np.radians(np.arange(0.0, 360.0, 3.0))
    size = 12.0 / steps**2 * rng.uniform(0.7, 1.3, order)
    phase = rng.uniform(0.0, 2.0 * np.pi, order)

    def cam(angle):
        return 30.0 + np.cos(np.outer(angle, steps) - phase) @ size

    angle = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    height = cam(angle) + rng.normal(0.0, 0.1, count)
    tried = [OLS(height, waves(angle, one)).fit() for one in range(11)]
    chosen = int(np.argmin([one.bic for one in tried]))
    theirs = tried[chosen].predict(waves(fine, chosen))
    readings = Readings(angle, height[:, None], 0.1, np.radians(0.01))
    ours = fit_motions(readings, (CamCurve(),)).curve(0, fine).value
    off = [np.sqrt(np.mean((one - cam(fine)) ** 2)) for one in (theirs, ours)]
    return chosen, *off, np.abs(ours - theirs).max()


def test_a_fixed_order_tells_a_cam_as_well_as_one_that_statsmodels_chooses():
    rng = np.random.default_rng(3)
    many = [(order, *cam_by_both(order, 72, rng)) for order in (2, 3, 4, 6) for _ in range(3)]
    assert sum(order == chosen for order, chosen, *_ in many) >= 9  # the choice knows them apart
    assert max(ours for *_, ours, _ in many) < 0.1  # 0.1 mm is the error of one reading
    assert max(apart for *_, apart in many) < 0.25
    few = np.array([cam_by_both(order, 24, rng) for order in (3, 4, 6) for _ in range(3)])
    assert (few[:, 0] == 10).sum() >= 4  # of few readings the choice is the most it may choose
    assert few[:, 2].mean() < 1.1 * few[:, 1].mean()
