"""The page of conventions names what the code does."""

import ast
import re

import numpy as np
import shapely
from sources import ROOT, sources

from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.photographs.flat_picture import Flat

PAGE = (ROOT / "docs" / "conventions.md").read_text(encoding="utf-8")
MEASURES = PAGE.partition("## Measures")[2].partition("## ")[0]
WORDS = PAGE.partition("## Which word")[2].partition("## ")[0]
UNITS = {"mm", "mm2", "mm3", "cm", "um", "px", "px2", "deg", "rad", "s", "ms", "sd", "kg"}
"""Endings that are units wherever they stand."""


def names():
    """Every name that is given to something in the program."""
    for source in sources():
        for node in ast.walk(source.tree):
            if isinstance(node, ast.arg):
                yield node.arg
            elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
                yield node.id
            elif isinstance(node, ast.FunctionDef | ast.ClassDef):
                yield node.name


def test_every_grade_stands_there_with_its_meaning():
    for grade in Grade:
        assert f"| {grade} | {grade.meaning} |" in PAGE


def test_every_unit_that_ends_a_name_is_told_and_none_other():
    endings = (name.lower().rpartition("_") for name in names())
    used = {f"_{end}" for before, _, end in endings if end in UNITS and not before.endswith("per")}
    told = set(re.findall(r"\| `(_\w+)` \|", MEASURES))
    assert used == told


def test_every_word_for_a_thing_in_code_is_in_code():
    known = {name.lower() for name in names()}
    for word in re.findall(r"`(\w+)`", WORDS):
        assert word.lower() in known, word


def test_a_pixels_number_is_its_middle():
    flat = Flat(
        np.zeros((40, 60, 3), np.uint16),
        8.0,
        (5.0, 7.0),
        np.zeros((40, 60), np.uint8),
        *(np.zeros((3, 3), np.float32),) * 2,
        np.zeros((3, 3, 3), np.float32),
    )
    assert flat.to_mm([[0.0, 0.0]]).tolist() == [[5.0 + 0.5 / 8.0, 7.0 + 0.5 / 8.0]]
    assert flat.to_px([[5.0, 7.0]]).tolist() == [[-0.5, -0.5]]


def test_outlines_run_clockwise_as_seen_and_holes_the_other_way():
    ring = shapely.Point(10, 10).buffer(6) - shapely.Point(10, 10).buffer(3)
    areas = sorted(ClosedPath.of(curves).area for curves in area_curves(ring))
    assert areas[0] < 0 < areas[1]


def test_every_command_of_run_py_stands_in_the_manual_and_none_other():
    code = (ROOT / "run.py").read_text(encoding="utf-8")
    page = (ROOT / "docs" / "change-it.md").read_text(encoding="utf-8")
    page += (ROOT / "README.md").read_text(encoding="utf-8")
    known = set(re.findall(r'case \["(\w+)"', code)) - {"ironlace"}
    assert known == set(re.findall(r"python3 run\.py (\w+)", page))
