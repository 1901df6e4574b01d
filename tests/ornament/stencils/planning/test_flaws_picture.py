"""The picture of what falls out, read back as XML, and its table."""

import csv
from io import StringIO
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

import ornaments
from ironlace.ornament.stencils import flaws_csv, flaws_of, flaws_svg, known_process, plan_sheets
from ironlace.ornament.stencils.planning.flaws_picture import WORDS

NS = {"s": "http://www.w3.org/2000/svg"}


@pytest.fixture(scope="module")
def plan():
    body = (
        '<path fill-rule="evenodd" d="M5 5H55V45H5Z M12 12H28V30H12Z M40 12H50V20H40Z"/>'
        '<rect x="58" y="5" width="0.3" height="20"/>'  # too narrow, and near its neighbour
        '<rect x="58.7" y="5" width="5" height="20"/>'
        # a tongue between two cuts
        '<path d="M70 5H72V45H75V5H77V47H70Z"/>'
    )
    process = known_process("film-laser").with_values({"longest_tongue_mm": 10.0}, "for the test")
    return plan_sheets(ornaments.page(100, 60, body), process, "bridges")


def test_every_kind_is_found_numbered_and_told_in_the_legend(plan):
    flaws = flaws_of(plan.layers)
    assert [f.number for f in flaws] == list(range(1, len(flaws) + 1))
    assert {f.kind for f in flaws} == {"island", "tongue", "web", "narrow"}
    islands = [f for f in flaws if f.kind == "island"]
    assert [round(f.area_mm2) for f in islands] == [16 * 18, 80]
    assert islands[0].length_mm == pytest.approx(np.hypot(16, 18), rel=1e-3)
    web = next(f for f in flaws if f.kind == "web")
    assert web.width_mm == pytest.approx(0.4, abs=0.01)
    assert web.length_mm == pytest.approx(20, rel=0.1)
    root = ElementTree.fromstring(flaws_svg(plan.layers, flaws, "What <falls> & out").encode())
    numbers = {t.text for t in root.findall("s:g[@id='numbers']/s:text", NS)}
    assert numbers == {str(f.number) for f in flaws}
    legend = " ".join(t.text for t in root.find("s:g[@id='legend']", NS).iter() if t.text)
    assert all(words in legend for words in WORDS.values())
    assert root.find("s:title", NS).text == "What <falls> & out"


def test_kinds_differ_by_pattern_not_only_by_colour(plan):
    root = ElementTree.fromstring(flaws_svg(plan.layers, flaws_of(plan.layers), "x").encode())

    def drawn(kind):
        group = root.find(f"s:g[@id='{kind}s']", NS)
        circles = group.findall("s:circle", NS)
        return (
            len(group.findall("s:path", NS)), len(circles),
            any(c.get("stroke-dasharray") for c in circles),
        )  # fmt: skip

    assert drawn("island") == (4, 0, False)  # outline and hatching of two
    assert drawn("web")[1] == 2 * drawn("web")[0]  # ringed twice
    assert drawn("narrow")[2]

    def slope(kind):
        hatching = root.find(f"s:g[@id='{kind}s']", NS).findall("s:path", NS)[1].get("d")
        x0, y0, x1, y1 = (float(v) for v in hatching[1:].replace("L", " ").split("M")[0].split())
        return np.sign((y1 - y0) / (x1 - x0))

    assert slope("island") != slope("tongue")


def test_hatching_lies_in_its_island_and_covers_it(plan):
    island = next(f for f in flaws_of(plan.layers) if f.kind == "island")
    root = ElementTree.fromstring(flaws_svg(plan.layers, [island], "x").encode())
    told = root.find("s:g[@id='islands']", NS).findall("s:path", NS)[1].get("d")
    ends = np.array([line.replace("L", " ").split() for line in told[1:].split("M")], float)
    lines = shapely.linestrings(ends.reshape(-1, 2, 2))
    assert shapely.covers(island.shape.buffer(0.002), lines).all()
    length = shapely.length(shapely.intersection(lines, island.shape.buffer(-0.01)))
    assert length == pytest.approx(shapely.length(lines), abs=0.05)
    # as many as lie so far apart fill its area
    apart = np.clip(np.sqrt(island.area_mm2) / 6.0, 0.35, 1.6)
    assert shapely.length(lines).sum() * apart == pytest.approx(island.area_mm2, rel=0.05)


def test_the_table_reads_back(plan):
    flaws = flaws_of(plan.layers)
    rows = list(csv.DictReader(StringIO(flaws_csv([f.as_dict() for f in flaws]))))
    assert [int(r["number"]) for r in rows] == [f.number for f in flaws]
    assert float(rows[0]["area_mm2"]) == pytest.approx(flaws[0].area_mm2, abs=1e-3)


def test_nothing_wrong_is_said_too():
    plan = plan_sheets(
        ornaments.page(40, 40, '<rect x="5" y="5" width="20" height="20"/>'),
        known_process("film-laser"),
        "bridges",
    )
    assert flaws_of(plan.layers) == []
    assert "nothing falls out" in flaws_svg(plan.layers, [], "x")
