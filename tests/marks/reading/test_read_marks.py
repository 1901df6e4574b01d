import csv
import io
from dataclasses import replace

import numpy as np
import pytest

import struck_plates
from ironlace.marks.errors import MarksError
from ironlace.marks.reading.dot_features import STEP_MM
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.read_marks import Interval, read_marks
from ironlace.marks.reading.relief_slopes import (
    ReliefSlopes,
    grain_of,
    slopes_from_normals,
)
from ironlace.workshop.marks.reading_files import learned
from struck_plates import Asked, struck_plate


def _places(rng, plate):
    return tuple(
        Place(r["kind"], int(r["row"]), int(r["index"]), float(r["x_px"]), float(r["y_px"]),
              float(r["height_px"]))
        for r in csv.DictReader(io.StringIO(plate.places(rng)))
    )  # fmt: skip


@pytest.fixture(scope="module")
def worn():
    rng = np.random.default_rng(8)
    with pytest.MonkeyPatch.context() as smaller:
        smaller.setattr(struck_plates, "PLATE_MM", (24.0, 14.0))
        plate = struck_plate(rng, Asked(wear=0.5, face="modern", per_row=5))
    return plate, slopes_from_normals(plate.normals(), plate.mm_per_px), _places(rng, plate)


def _read(relief, places, **asked):
    return read_marks(relief, places, learned(), np.random.default_rng(1), **asked)


@pytest.fixture(scope="module")
def plain(worn):
    return _read(worn[1], worn[2], base_rate=0.1, slope_gain=Interval(1.0, 0.5, 2.0))


@pytest.fixture(scope="module")
def helped(worn):
    """The same with the first row labelled, and another base rate."""
    plate, relief, places = worn
    labels = {(d.row, d.index): d.glyph for d in plate.digits if d.row == 0}
    return _read(relief, places, base_rate=0.9, labels=labels)


def test_every_place_gets_a_whole_distribution(worn, plain):
    for digit in plain.digits:
        assert sum(digit.p.values()) == pytest.approx(1)
        assert min(digit.p.values()) > 0
    right = [
        max(d.p, key=d.p.get) == t.glyph for d, t in zip(plain.digits, worn[0].digits, strict=True)
    ]
    assert np.mean(right) >= 0.75
    for gap in plain.gaps:
        assert 0 < gap.p_struck < 1
        assert gap.depth_mm.low <= gap.depth_mm.value <= gap.depth_mm.high
        assert gap.depth_mm.high >= 1.9 * gap.depth_mm.value
    assert [row.row for row in plain.strings] == [0, 1]
    assert plain.remarks == ()


def test_the_base_rate_moves_every_gap(plain, helped):
    assert all(a.p_struck < b.p_struck for a, b in zip(plain.gaps, helped.gaps, strict=True))


def test_bare_metal_cannot_be_told():
    """Where nothing stands out no glyph is sure, no dot is sure, and it is said."""
    noise = np.random.default_rng(3).normal(0, 0.03, (2, 400, 900)).astype(np.float32)
    places = [Place("digit", 0, k, 100 + 110.0 * k, 200, 96) for k in range(6)]
    places += [Place("gap", 0, k, 155 + 110.0 * k, 200, 96) for k in range(5)]
    read = _read(ReliefSlopes(noise, 0.025), places)
    assert max(max(d.p.values()) for d in read.digits) < 0.9
    assert max(g.p_struck for g in read.gaps) < 0.9
    assert all(g.depth_mm.low == 0 for g in read.gaps)
    assert read.remarks[0].startswith("The digits fit no better than bare metal")


def test_a_plate_unlike_all_that_was_tuned_on_is_told_so(worn):
    _, relief, places = worn
    places = places[:4]
    rough = relief.slopes + np.random.default_rng(1).normal(0, 1.0, relief.slopes.shape)
    strange = _read(ReliefSlopes(rough.astype(np.float32), relief.mm_per_px), places)
    assert strange.plate.outside_tuning > 0
    assert max(max(d.p.values()) for d in strange.digits) < 0.95


@pytest.mark.parametrize(("finer", "strange"), [(0.3, False), (0.6, True), (-1.5, True)])
def test_better_photographs_make_no_stranger_of_a_plate(worn, finer, strange):
    _, relief, places = worn
    wide = np.ones(5)
    low, high = -20 * wide, 20 * wide
    low[0] = np.log(grain_of(relief, STEP_MM / relief.mm_per_px)) + finer
    high[0] = low[0] + 1.0
    narrow = replace(learned(), plate_low=low, plate_high=high)
    read = read_marks(relief, places[:4], narrow, np.random.default_rng(1))
    assert (read.plate.outside_tuning > 0) == strange


def test_one_mirrored_strike_is_named_and_not_read_as_another_figure(monkeypatch):
    rng = np.random.default_rng(1)
    monkeypatch.setattr(struck_plates, "PLATE_MM", (26.0, 12.0))
    clear = Asked(
        wear=0.1, face="mono", per_row=6, rows=1, pits_per_mm2=0.3, wear_way="shrunk",
        surface="scratched",
    )  # fmt: skip
    plate = struck_plate(rng, clear)
    places, slopes = _places(rng, plate), slopes_from_normals(plate.normals(), 0.025).slopes
    assert plate.digits[0].glyph == "2"
    at = next(p for p in places if (p.kind, p.index) == ("digit", 0))
    x, y, side = round(at.x_px), round(at.y_px), round(0.6 * at.height_px)
    window = np.s_[:, y - side : y + side + 1, x - side : x + side + 1]
    slopes[window] = slopes[window][:, :, ::-1]
    slopes[0][window[1:]] *= -1
    read = _read(ReliefSlopes(slopes, 0.025), places)
    assert max(read.digits[0].p.values()) < 0.2
    assert "digit 1: fits much better as 2 mirrored" in read.remarks[0]


def test_figures_that_stand_in_one_another_are_named(worn):
    _, relief, places = worn
    first = [p for p in places if p.kind == "digit" and p.row == 0]
    near = replace(first[1], x_px=first[0].x_px + 0.4 * first[0].height_px)
    read = _read(relief, (first[0], near, *first[2:]))
    assert [one for one in read.remarks if "overlap" in one and "digit 1, 2" in one]


def test_labelled_strikes_serve_their_fellows_and_not_themselves(plain, helped):
    for a, b in zip(plain.digits, helped.digits, strict=True):
        if a.place.row == 0:
            assert a.p == pytest.approx(b.p)
    assert any(
        a.p != b.p for a, b in zip(plain.digits, helped.digits, strict=True) if a.place.row == 1
    )


def test_fewer_glyphs_share_the_whole(worn):
    _, relief, places = worn
    read = _read(relief, places[:2], glyphs="138")
    assert all(set(d.p) == set("138") for d in read.digits)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"base_rate": 1.0}, "base rate is 1"),
        ({"base_rate": float("nan")}, "base rate is nan"),
        ({"glyphs": "1"}, "name two"),
        ({"glyphs": "1123"}, "each once"),
        ({"glyphs": "12A"}, "no shape of A"),
        ({"shapes": {"1": ()}}, "no shape of 0"),
    ],
)
def test_what_cannot_be_asked_is_refused(worn, asked, says):
    with pytest.raises(MarksError, match=says):
        _read(worn[1], worn[2], **asked)
