"""The printable scale strip: layout file, drawing, and refusals."""

from __future__ import annotations

import re
from typing import get_args

import cv2
import numpy as np
import pytest
from shapely import Point, Polygon

from ironlace.photographs.errors import LayoutError
from ironlace.photographs.scale_strip import (
    PAGE_MM,
    Piece,
    StripLayout,
    marker_cells,
    marker_rings_mm,
    strip_sheet,
    strip_svg,
)

PIECES = get_args(Piece)


@pytest.mark.parametrize("piece", PIECES)
def test_layout_survives_its_file(piece: Piece) -> None:
    layout = strip_sheet(piece).layout
    assert StripLayout.from_csv(layout.to_csv()) == layout


def test_no_marker_number_is_used_on_two_pieces() -> None:
    numbers = [m.id for p in PIECES for m in strip_sheet(p).layout.markers]
    assert len(numbers) == len(set(numbers))


@pytest.mark.parametrize("piece", PIECES)
@pytest.mark.parametrize("page", list(PAGE_MM))
def test_piece_fits_its_page_with_margins(piece: Piece, page: str) -> None:
    width, height = strip_sheet(piece).size_mm
    assert width <= PAGE_MM[page][0] - 16 and height <= PAGE_MM[page][1] - 16  # type: ignore[index]


def test_rings_cover_exactly_the_black_cells() -> None:
    marker = strip_sheet("frame").layout.markers[7]
    cells = marker_cells(marker.dictionary, marker.id)
    rings = [Polygon(r) for r in marker_rings_mm(marker)]
    left, top = marker.corners_mm[0]
    for row in range(8):
        for column in range(8):
            centre = Point(left + (column + 0.5) * 1.5, top + (row + 0.5) * 1.5)
            inside = sum(r.contains(centre) for r in rings) % 2 == 1
            assert inside == cells[row, column]


def test_drawn_marker_is_read_by_opencv() -> None:
    marker = strip_sheet("wrap").layout.markers[3]
    image = np.full((300, 300), 255, np.uint8)
    origin = np.array(marker.corners_mm[0])
    polygons = [
        np.round(((r - origin) * 20 + 50) * 16).astype(np.int32) for r in marker_rings_mm(marker)
    ]
    cv2.fillPoly(image, polygons, 0, shift=4)
    detector = cv2.aruco.ArucoDetector(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250), cv2.aruco.DetectorParameters()
    )
    _, ids, _ = detector.detectMarkers(image)
    assert ids is not None and ids.ravel().tolist() == [marker.id]


def test_sheet_draws_in_millimetres_with_a_100_mm_bar() -> None:
    svg = strip_svg(strip_sheet("frame"), "A4")
    assert 'width="297mm" height="210mm" viewBox="0 0 297 210"' in svg
    assert re.search(r'class="check-bar"[^>]*d="M[\d.]+ [\d.]+h100M', svg)
    assert "<text" not in svg


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "missing"),
        ("dictionary,id,corner,x_mm\nDICT_6X6_250,1,0,0\n", "y_mm is missing"),
        ("dictionary,id,corner,x_mm,y_mm\n", "no marker"),
        ("dictionary,id,corner,x_mm,y_mm\nDICT_6X6_250,1,0,zero,0\n", "not a number"),
        ("dictionary,id,corner,x_mm,y_mm\nDICT_6X6_250,1,0,0,0\n", "lacks corner 1, 2, 3"),
        ("dictionary,id,corner,x_mm,y_mm\nDICT_6X6_250,1,7,0,0\n", "corner 7"),
        ("dictionary,id,corner,x_mm,y_mm\nNO_SUCH,1,0,0,0\n", "OpenCV does not have"),
        (
            "dictionary,id,corner,x_mm,y_mm\n"
            + "".join(
                f"DICT_6X6_250,1,{c},{x},{y}\n"
                for c, (x, y) in enumerate([(0, 0), (0, 9), (9, 9), (9, 0)])
            ),
            "wrong way",
        ),
        (
            "dictionary,id,corner,x_mm,y_mm\n"
            + "".join(
                f"DICT_6X6_250,999,{c},{x},{y}\n"
                for c, (x, y) in enumerate([(0, 0), (9, 0), (9, 9), (0, 9)])
            ),
            "does not exist",
        ),
    ],
)
def test_bad_layouts_are_refused_in_one_sentence(text: str, said: str) -> None:
    with pytest.raises(LayoutError, match=said):
        StripLayout.from_csv(text)
