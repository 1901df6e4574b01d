"""The demo workshop's material: photographs, record, reports, and the truth they were made from."""

import csv
import hashlib
import io
import json
import re
from datetime import datetime
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image
from shapely import Polygon, affinity, contains_xy, unary_union

import ironlace.workshop
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.photographs.scale_strip import StripLayout, strip_sheet
from ironlace.record import Mark, Photograph, ReportEntry, parse_entry
from ironlace.survey import compare, date_of, read_reports, read_schemes

MATERIAL = Path(ironlace.workshop.__file__).parent / "demo"
ORNAMENT = MATERIAL / "ornament-on-bed.jpg"
GPS, CAMERA_MAKER, CAMERA_MODEL = 0x8825, 0x010F, 0x0110
DETAILS, TAKEN, FOCAL_LENGTH = 0x8769, 0x9003, 0x920A
WINDOW = (20.0, 20.0, 236.0, 166.0)


def photographs() -> list[Path]:
    return sorted(MATERIAL.glob("*.jpg"))


def items() -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads((MATERIAL / "machine.json").read_text("utf-8"))
    return found


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((MATERIAL / name).read_text("utf-8"))))


def test_photographs_stay_under_six_megabytes() -> None:
    assert len(photographs()) == 6
    assert sum(path.stat().st_size for path in photographs()) < 6_000_000


@pytest.mark.parametrize("path", photographs(), ids=lambda path: path.stem)
def test_exif_has_day_and_focal_length_but_no_place_and_no_camera(path: Path) -> None:
    with Image.open(path) as image:
        image.load()
        exif = image.getexif()
        assert min(image.size) >= 1000
    details = exif.get_ifd(DETAILS)
    assert re.fullmatch(r"2025:\d\d:\d\d \d\d:\d\d:\d\d", details[TAKEN])
    assert 20 < float(details[FOCAL_LENGTH]) < 120
    assert not exif.get_ifd(GPS)
    assert CAMERA_MAKER not in exif and CAMERA_MODEL not in exif


def test_every_entry_is_valid_and_dated_in_order() -> None:
    moments = []
    for item in items():
        parse_entry(item["entry"])
        moments.append(datetime.fromisoformat(item["made_at"]))
    assert all(moment.tzinfo is not None for moment in moments)
    assert moments == sorted(moments)
    assert (moments[-1] - moments[0]).days > 30


def test_entries_are_numbered_as_they_come_and_some_are_changed_later() -> None:
    count: dict[str, int] = {}
    changed = 0
    for item in items():
        kind, number = item["name"].split()
        assert kind == item["entry"]["kind"]
        if int(number) <= count.get(kind, 0):
            changed += 1
        else:
            count[kind] = count.get(kind, 0) + 1
            assert int(number) == count[kind], item["name"]
    assert changed >= 3


def test_entries_point_only_at_what_stands_in_the_record_by_then() -> None:
    standing: set[str] = set()
    for item in items():
        standing.add(item["name"])
        entry = item["entry"]
        named = [*entry.get("photographs", ()), *entry.get("before", ()), *entry.get("after", ())]
        named += [source["entry"] for source in entry.get("sources", ()) if "entry" in source]
        missing = set(named) - standing
        assert not missing, f"{item['name']} names {missing}"


def test_photographs_in_the_record_are_the_files() -> None:
    named = {}
    for item in items():
        if item["entry"]["kind"] != "photograph":
            continue
        entry = parse_entry(item["entry"])
        assert isinstance(entry, Photograph)
        data = (MATERIAL / item["file"]).read_bytes()
        assert hashlib.sha256(data).hexdigest() == entry.sha256, item["file"]
        with Image.open(io.BytesIO(data)) as image:
            taken = image.getexif().get_ifd(DETAILS)[TAKEN][:10].replace(":", "-")
        assert taken == entry.date
        named[item["file"]] = entry
    assert set(named) == {path.name for path in photographs()}


def test_reports_are_read_whole_and_hold_their_troubles() -> None:
    table = read_reports((MATERIAL / "reports.csv").read_text("utf-8"))
    assert len(table.reports) == 12
    assert not table.set_aside and not table.remarks
    ids = {report.id for report in table.reports}
    again = [report for report in table.reports if report.machine]
    assert len(again) == 1 and again[0].machine in ids
    assert sum(report.mark.has_doubts for report in table.reports) >= 3
    told = [report for report in table.reports if report.seen == "told"]
    assert len(told) == 1


def test_reports_favour_the_numbering_they_were_made_by_but_not_beyond_doubt() -> None:
    table = read_reports((MATERIAL / "reports.csv").read_text("utf-8"))
    found = compare(table.reports, read_schemes((MATERIAL / "schemes.txt").read_text("utf-8")))
    assert found.best.name == "by works and year"
    assert 2 < found.odds < 1000


def test_the_machine_dates_to_the_year_behind_its_ring() -> None:
    serial = next(
        entry
        for item in items()
        if isinstance(entry := parse_entry(item["entry"]), Mark) and "serial" in entry.purpose
    )
    table = read_reports((MATERIAL / "reports.csv").read_text("utf-8"))
    found = compare(table.reports, read_schemes((MATERIAL / "schemes.txt").read_text("utf-8")))
    interval = date_of(serial.marking, found).interval
    assert interval.earliest is not None and interval.latest is not None
    assert interval.earliest.year <= 1894 <= interval.latest.year


def test_reports_become_entries() -> None:
    for row in rows("reports.csv"):
        entry = ReportEntry(
            grade=Grade.SEEN, name=row["id"], reads=row["mark"], sighted=row["sighted"]
        )
        assert str(parse_marking(row["mark"])) == entry.reads


def test_anchors_are_dated_reports() -> None:
    marks = {row["mark"] for row in rows("reports.csv")}
    anchors = rows("anchors.csv")
    assert len(anchors) == 3
    for row in anchors:
        assert row["serial"] in marks
        assert row["kind"] in ("at", "not before", "not after", "sold")
        assert EdtfDate.parse(row["date"]).earliest is not None


def curves(name: str) -> tuple[str, list[list[np.ndarray]]]:
    """The head of an SVG and, for each path, its rings flattened by plain evaluation."""
    text = (MATERIAL / name).read_text("utf-8")
    shapes = []
    for path in re.findall(r'<path d="([^"]+)"', text):
        rings = []
        for ring in re.findall(r"M([^M]+?)Z", path):
            head, *pieces = ring.split("C")
            at = np.array(head.split(), float)
            run = [at]
            for piece in pieces:
                c = np.array([at, *np.array(piece.split(), float).reshape(3, 2)])
                t = np.linspace(0, 1, 9)[1:, None]
                s = 1 - t
                run.extend(s**3 * c[0] + 3 * s * s * t * c[1] + 3 * s * t * t * c[2] + t**3 * c[3])
                at = c[3]
            assert np.allclose(run[0], run[-1], atol=2e-4), "a ring does not end where it began"
            rings.append(np.array(run))
        assert rings
        shapes.append(rings)
    return text, shapes


def truth() -> Any:
    """The true ornament as one area, in frame millimetres."""
    _, shapes = curves("truth_ornament.svg")
    parts = []
    for rings in shapes:
        areas = sorted((Polygon(ring).buffer(0) for ring in rings), key=lambda p: -p.area)
        parts.append(areas[0].difference(unary_union(areas[1:])))
    return unary_union(parts)


def test_truth_is_in_millimetres_filled_and_closed() -> None:
    text, shapes = curves("truth_ornament.svg")
    width, height = strip_sheet("frame").size_mm
    assert f'width="{width:g}mm" height="{height:g}mm" viewBox="0 0 {width:g} {height:g}"' in text
    assert 'stroke="none"' in text and "fill=" in text
    assert set(re.findall("[A-Za-z]", "".join(re.findall(r'd="([^"]+)"', text)))) == set("MCZ")
    left, top, right, bottom = truth().bounds
    assert left > WINDOW[0] and top > WINDOW[1] and right < WINDOW[2] and bottom < WINDOW[3]
    assert len(shapes) > 20


def test_truth_has_its_mirror_axis_and_hairlines() -> None:
    area = truth()
    upright = affinity.rotate(area, -0.9, origin=(127.2, 94.1))
    mirrored = affinity.scale(upright, -1.0, 1.0, origin=(127.2, 94.1))
    assert upright.symmetric_difference(mirrored).area < 0.02 * area.area
    # What vanishes when 0.2 mm is taken from every side is 0.4 mm wide or less.
    thin = area.area - area.buffer(-0.2).buffer(0.2).area
    assert thin > 0.02 * area.area


def test_worn_places_are_a_small_share_of_the_ornament() -> None:
    text = (MATERIAL / "truth_wear.svg").read_text("utf-8")
    rings = [
        np.array(re.findall(r"[-\d.]+", ring), float).reshape(-1, 2)
        for ring in re.findall(r'<path d="M([^Z]+)Z"', text)
    ]
    worn = unary_union([Polygon(ring).buffer(0) for ring in rings if len(ring) > 3])
    share = worn.intersection(truth()).area / truth().area
    assert 0.01 < share < 0.15


def test_lens_layout_and_photograph_agree() -> None:
    lens = json.loads((MATERIAL / "lens.json").read_text("utf-8"))
    matrix, bend = np.array(lens["matrix"]), np.array(lens["distortion"])
    layout = StripLayout.from_csv((MATERIAL / "frame_layout.csv").read_text("utf-8"))
    assert layout == strip_sheet("frame").layout
    picture = cv2.imread(str(ORNAMENT))
    assert picture is not None and picture.shape == (3000, 4000, 3)
    finder = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250))
    settings = finder.getDetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    finder.setDetectorParameters(settings)
    corners, ids, _ = finder.detectMarkers(picture)
    assert len(ids) == len(layout.markers)
    seen = np.concatenate([c[0] for c in corners]).astype(np.float64)
    places = np.concatenate(
        [np.array(layout.by_key["DICT_6X6_250", int(i)].corners_mm) for i in ids.ravel()]
    )
    solid = np.column_stack([places, np.zeros(len(places))])
    found, turn, shift = cv2.solvePnP(solid, seen, matrix, bend)
    assert found
    again, _ = cv2.projectPoints(solid, turn, shift, matrix, bend)
    off = again[:, 0] - seen
    assert np.sqrt((off**2).sum(axis=1).mean()) < 0.6
    # Without the lens the fit must be plainly worse: the distortion is really in the picture.
    _, turn0, shift0 = cv2.solvePnP(solid, seen, matrix, None)
    plain, _ = cv2.projectPoints(solid, turn0, shift0, matrix, None)
    assert np.sqrt(((plain[:, 0] - seen) ** 2).sum(axis=1).mean()) > 1.5
    # And the true outline lies where the gilt is: yellow well inside, black well outside.
    area = truth()
    rng = np.random.default_rng(5)
    spots = rng.uniform((38, 47), (216, 141), (6000, 2))
    px, _ = cv2.projectPoints(
        np.column_stack([spots, np.zeros(len(spots))]), turn, shift, matrix, bend
    )
    px = np.round(px[:, 0]).astype(int)
    smooth = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 1.5)
    yellow = smooth[px[:, 1], px[:, 0], 2] - smooth[px[:, 1], px[:, 0], 0]
    inside = contains_xy(area.buffer(-0.25), spots[:, 0], spots[:, 1])
    outside = ~contains_xy(area.buffer(0.25), spots[:, 0], spots[:, 1])
    assert inside.sum() > 200
    assert np.median(yellow[inside]) > np.median(yellow[outside]) + 40
    assert (yellow[inside] > 40).mean() > 0.85
    assert (yellow[outside] < 40).mean() > 0.97
