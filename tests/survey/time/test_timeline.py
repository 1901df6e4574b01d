import numpy as np
import pytest

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.survey.errors import SurveyError
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.time.timeline import DatedNumber, timeline

PERIOD = {"first_year": 1870, "last_year": 1920}


def at(number, date, kind=DatedKind.AT):
    return DatedNumber(number, kind, EdtfDate.parse(date))


STEADY = [at(1000, "1890-01"), at(13000, "1891-01"), at(25000, "1892-01"), at(49000, "1894-01")]


def test_between_anchors_of_a_steady_maker_the_date_is_narrow_and_right():
    density = timeline(STEADY, [19000], **PERIOD).of(19000)
    low, high = density.bounds(0.9)
    assert low <= (1891 - 1870) * 12 + 6 <= high
    assert high - low < 14


def test_dates_never_run_back():
    numbers = list(range(500, 70000, 6000))
    line = timeline(STEADY, numbers, **PERIOD)
    middles = [line.of(n).middle for n in numbers]
    assert middles == sorted(middles)


def test_it_widens_beyond_the_last_anchor_and_says_so():
    numbers = [49000, 60000, 90000, 140000]
    line = timeline(STEADY, numbers, **PERIOD)
    bounds = [line.of(n).bounds(0.9) for n in numbers]
    widths = [high - low for low, high in bounds]
    assert widths == sorted(widths)
    assert line.beyond == (False, True, True, True)


def test_bounds_hold():
    anchors = [
        at(1000, "1890"),
        at(30000, "1900"),
        at(20000, "1894-01", DatedKind.NOT_BEFORE),
        at(22000, "1895-12", DatedKind.NOT_AFTER),
    ]
    line = timeline(anchors, [19999, 20001, 22001], **PERIOD)
    first = (1894 - 1870) * 12
    last = (1896 - 1870) * 12
    assert line.of(20001).mass[:first].sum() < 0.2
    assert line.of(19999).mass[last:].sum() < 0.2


def test_sold_means_made_before():
    made = timeline([*STEADY[:2], at(60000, "1897-06")], [60000], **PERIOD).of(60000)
    sold = timeline([*STEADY[:2], at(60000, "1897-06", DatedKind.SOLD)], [60000], **PERIOD).of(
        60000
    )
    assert sold.middle < made.middle


def test_a_wrong_anchor_is_named():
    line = timeline([*STEADY, at(24000, "1875-01")], [19000], **PERIOD)
    assert line.doubtful_anchors[-1] > 0.8
    assert max(line.doubtful_anchors[:-1]) < 0.3


def test_ordered_anchors_speak_for_a_running_number():
    ordered = timeline(STEADY, [5000], **PERIOD).log_gain
    dates = [a.date for a in reversed(STEADY)]
    backward = [DatedNumber(a.number, a.kind, d) for a, d in zip(STEADY, dates, strict=True)]
    assert ordered > 3.0 > timeline(backward, [5000], **PERIOD).log_gain


def test_two_anchors_are_needed():
    with pytest.raises(SurveyError, match="at least two"):
        timeline([STEADY[0]], [5], **PERIOD)


def test_dates_between_anchors_cover_about_as_said():
    rng = np.random.default_rng(31)
    covered = []
    for _ in range(8):
        months = 240
        rate = 200 * np.exp(np.cumsum(rng.normal(0, np.sqrt(0.06 / 12), months)))
        made = np.round(np.cumsum(rate)).astype(int)
        when = np.sort(rng.choice(months, 6, replace=False))
        anchors = [at(int(made[m]), f"{1880 + m // 12}-{m % 12 + 1:02d}") for m in when.tolist()]
        asked = rng.integers(when[0] + 1, when[-1], 3)
        line = timeline(anchors, [int(made[m]) for m in asked], **PERIOD)
        for m in asked:
            low, high = line.of(int(made[m])).bounds(0.9)
            covered.append(low <= m + 120 <= high)
    # 24 dates: the bench has the full study; this catches a break.
    assert np.mean(covered) >= 0.75


def test_a_season_is_learned_from_the_dated_machines_and_narrows_the_date():
    # a thousand a year, all from April to September
    months = [12 * year + 3 + month for year in range(14) for month in range(6)]
    made = np.repeat(months, 167)
    dated = [300, 1900, 3500, 4700, 6200, 8100, 9500, 11100, 12500]
    anchors = [at(n, f"{1880 + made[n] // 12}-{made[n] % 12 + 1:02d}") for n in dated]
    asked = [1100, 2700, 5400, 7000, 7300, 10300]
    line = timeline(anchors, asked, **PERIOD)
    bounds = [line.of(n).bounds(0.9) for n in asked]
    assert line.seasonal > 0.6
    held = [low <= made[n] + 120 <= high for n, (low, high) in zip(asked, bounds, strict=True)]
    # of six that hold nine times in ten, fewer than four do in one of a hundred
    assert sum(held) >= 4
    assert np.median([high - low for low, high in bounds]) < 6


def test_about_and_a_query_are_wider_than_the_year_itself():
    def width(mark, kind=DatedKind.AT):
        anchors = [
            DatedNumber(n, kind, EdtfDate.parse(f"{1880 + n // 400}{mark}"))
            for n in range(400, 4001, 400)
        ]
        low, high = timeline(anchors, [2200], first_year=1860, last_year=1920).of(2200).bounds()
        return high - low

    assert width("~") > 1.4 * width("")
    assert width("?") >= width("")


def test_sales_alone_allow_for_years_in_stock_and_a_date_of_making_settles_it():
    sold = [
        DatedNumber(n, DatedKind.SOLD, EdtfDate.parse(f"{1880 + n // 400}-06"))
        for n in range(400, 4001, 400)
    ]
    made = [
        DatedNumber(n, DatedKind.AT, EdtfDate.parse(f"{1880 + n // 400}-02")) for n in (600, 3000)
    ]
    span = {"first_year": 1860, "last_year": 1920}
    alone = timeline(sold, [2200], **span)
    beside = timeline([*sold, *made], [2200], **span)
    assert alone.in_stock > 0.1 > beside.in_stock
    assert alone.of(2200).bounds()[0] + 18 < beside.of(2200).bounds()[0]
