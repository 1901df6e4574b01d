"""What the tests of several rooms share."""

import os
import shutil

import hypothesis
import pytest
import shapely

from ironlace.evidence.findings import Finding, Method
from ironlace.evidence.grades import Grade
from ironlace.ornament import ClosedPath, Drawing, drawing_svg
from ironlace.ornament.outline.brush_strokes import area_curves
from ironlace.record.entries import DrawingEntry
from ironlace.workshop import Workshop
from ironlace.workshop.ornament.drawings import keep_svg_in
from photographed_case import plane_case  # noqa: F401  (photographs and ornament share it)

pytest_plugins = ["slow_lane"]

# how long an example takes says how busy the machine is, and fails nobody; in CI the examples are
# the same in every run, so that a run can be repeated
hypothesis.settings.register_profile("bench", deadline=None)
hypothesis.settings.register_profile("ci", deadline=None, derandomize=True)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "bench")


@pytest.fixture(scope="session")
def darkroom():
    """The renderer that shares nothing with the solver, kept beside the ornament's tests."""
    import darkroom as made

    return made


@pytest.fixture(scope="session")
def add_drawing():
    """What puts a small drawing into a workshop without a photograph; gives its name."""
    return _add_drawing


def _small_drawing():
    """A ring, a bar worn through with a bridge over the gap, and a leaf, mm."""
    ring = shapely.Point(15, 15).buffer(6, quad_segs=32) - shapely.Point(15, 15).buffer(4)
    paths = [ClosedPath.of(c) for c in area_curves(ring)]
    paths += [ClosedPath.of(c) for c in area_curves(shapely.box(28, 8, 34, 10))]
    bridge = area_curves(shapely.box(34.05, 8, 36.95, 10))
    paths += [ClosedPath.of(c, Grade.CONJECTURED, "bridge") for c in bridge]
    paths += [ClosedPath.of(c) for c in area_curves(shapely.box(37, 8, 44, 10))]
    leaf = shapely.Point(40, 22).buffer(4) & shapely.Point(43, 22).buffer(4)
    paths += [ClosedPath.of(c, Grade.INFERRED, "mirror") for c in area_curves(leaf)]
    return Drawing(tuple(paths), (0.0, 0.0, 60.0, 34.0))


def _add_drawing(workshop, slug, drawing=None, *, axis=True):
    """Keep a drawing with one bridge, and an axis if so told, in its finding; return its name."""
    drawing = drawing or _small_drawing()
    line = [[33.4 + 0.1 * k, 9.0] for k in range(43)]
    report = {
        "bridges": [
            {
                "gap_mm": 3.0,
                "cost": 0.4,
                "at_mm": [35.5, 9],
                "centre_mm": line,
                "width_mm": [2.0] * 43,
            }
        ],
        "gathered": [{"name": "mirror", "axis": {"x_mm": 30, "y_mm": 17, "direction_deg": 90}}]
        if axis
        else [],
    }
    with workshop.database.writing() as session:
        sha = keep_svg_in(workshop, session, drawing_svg(drawing), "test.svg")
        entry = DrawingEntry(
            name="Filigree of the bed",
            svg=sha,
            width_mm=60.0,
            height_mm=34.0,
            grade=Grade.SEEN,
            finding=Finding(
                about="ornament",
                value={"svg": sha},
                grade=Grade.SEEN,
                method=Method(name="by a test", parameters={"report": report}),
                version="0",
            ),
        )
        return workshop.records.add_in(session, slug, entry)


@pytest.fixture(scope="session")
def empty_workshop(tmp_path_factory):
    """The folder of a workshop as it is made: to copy, which takes a tenth of making one."""
    folder = tmp_path_factory.mktemp("empty") / "workshop"
    Workshop.create(folder).close()
    return folder


@pytest.fixture
def folder(tmp_path, empty_workshop):
    """The folder of a new workshop."""
    return shutil.copytree(empty_workshop, tmp_path / "workshop")


@pytest.fixture
def workshop(folder):
    """A new workshop."""
    with Workshop.open(folder) as made:
        yield made


@pytest.fixture
def slug(workshop):
    """A machine in it."""
    return workshop.records.create("Test head no. 1")
