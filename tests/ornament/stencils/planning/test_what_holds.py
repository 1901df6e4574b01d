"""A judge of finished sheets: drawn by a renderer that is none of ours, every bridge cut."""

import io
import re

import cv2
import networkx as nx
import numpy as np
import pytest
from PIL import Image

import ornaments
from ironlace.ornament.stencils import known_process, plan_sheets

resvg = pytest.importorskip("resvg_py")
PX_PER_MM = 40
_INCH_MM = 25.4


def film_of(svg):
    """What is left of a sheet, as True, and its left upper corner in mm."""
    dpi = round(PX_PER_MM * _INCH_MM)
    png = resvg.svg_to_bytes(svg_string=svg, dpi=dpi, background="white")
    grey = np.asarray(Image.open(io.BytesIO(bytes(png))).convert("L"))
    left, top, wide, _ = map(float, re.search(r'viewBox="([^"]*)"', svg)[1].split())
    return grey > 127, np.array([left, top]), grey.shape[1] / wide


def _at_the_rim(stat, shape, scale):
    """Whether a piece lies wholly in the margin around the ornament."""
    x, y, wide, high = stat[:4]
    margin = 6 * scale
    rows, columns = shape
    return (
        x + wide < margin or x > columns - margin or y + high < margin or y > rows - margin
    ) and max(wide, high) < margin


def what_falls(film, corner, scale, bridges, width_mm):
    """For each bridge the longest extent in mm of what falls when it alone is cut, 0 for nothing.

    All bridges are cut at once; the pieces are the nodes of a graph, the bridges its edges.
    """
    whole, piece, stats, _ = cv2.connectedComponentsWithStats(film.astype(np.uint8), connectivity=4)
    cut = (piece == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())).astype(np.uint8)
    # the rest are the corners beyond the sheet's rounded edge and the discs cut for the register
    away = [n for n in range(1, whole) if not _at_the_rim(stats[n], film.shape, scale)]
    assert len(away) == 1, "the sheet is in several pieces"
    ends = [(np.array([[b.ax, b.ay], [b.bx, b.by]]) - corner) * scale for b in bridges]
    for end in ends:
        middle, half = end.mean(axis=0), (end[1] - end[0]) / 2
        across = np.array([-half[1], half[0]]) / max(np.hypot(*half), 1e-9)
        reach = across * width_mm * scale * 0.9
        one, two = np.round(np.array([middle - reach, middle + reach]) * 16).astype(int)
        cv2.line(cut, tuple(map(int, one)), tuple(map(int, two)), 0, 3, cv2.LINE_8, 4)
    count, piece, stats, _ = cv2.connectedComponentsWithStats(cut, connectivity=4)
    sheet = 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(1, count))
    for n, end in enumerate(ends):
        middle, along = end.mean(axis=0), end[1] - end[0]
        step = along / max(np.hypot(*along), 1e-9) * 4
        sides = []
        for sign in (-1, 1):
            x, y = np.round(middle + sign * step).astype(int)
            sides.append(int(piece[y, x]))
        assert 0 not in sides, f"bridge {n} is not on the film"
        graph.add_edge(*sides, key=n)
    fallen = np.zeros(len(bridges))
    for n, end in enumerate(ends):
        u, v = next((u, v) for u, v, key in graph.edges(keys=True) if key == n)
        graph.remove_edge(u, v, key=n)
        for side in (u, v):
            hanging = nx.node_connected_component(graph, side)
            if sheet not in hanging:
                points = np.argwhere(np.isin(piece, list(hanging)))[:, ::-1].astype(np.float32)
                fallen[n] = 2 * cv2.minEnclosingCircle(points)[1] / scale
        graph.add_edge(u, v, key=n)
        assert len(end) == 2
    return fallen


def islands_with_small_ones_beside(seed, groups):
    """Large islands in open fields, each with small ones nearer to it than any shore."""
    rng = np.random.default_rng(seed)
    body, across = [], int(np.ceil(np.sqrt(groups)))
    for n in range(groups):
        x, y = 20 + 30 * (n % across), 20 + 30 * (n // across)
        rings = [(x, y, 13.0), (x, y, rng.uniform(3.0, 6.0))]
        for _ in range(int(rng.integers(1, 4))):
            turn, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.7, 1.2)
            away = rings[1][2] + size + rng.uniform(0.9, 1.6)
            place = (x + away * np.cos(turn), y + away * np.sin(turn))
            if all(np.hypot(place[0] - u, place[1] - v) > size + r + 0.8 for u, v, r in rings[2:]):
                rings.append((*place, size))
        body.append(
            "".join(
                f"M{u - r:.3f} {v:.3f}a{r:.3f} {r:.3f} 0 1 0 {2 * r:.3f} 0"
                f"a{r:.3f} {r:.3f} 0 1 0 {-2 * r:.3f} 0Z"
                for u, v, r in rings
            )
        )
    side = 30 * across + 10
    path = f'<path fill-rule="evenodd" d="{"".join(body)}"/>'
    return ornaments.page(side, side, path)


def hung_on_one(svg, made_for):
    """Numbers of the bridges on which more hangs than the process allows."""
    plan = plan_sheets(svg, made_for, "bridges")
    film, corner, scale = film_of(plan.sheets[0].svg())
    lines = [bridge.line for layer in plan.layers for bridge in layer.bridges]
    fallen = what_falls(film, corner, scale, lines, made_for.bridge_width_mm)
    # half of the bridge falls with what hung on it
    stub = np.array([np.hypot(b.bx - b.ax, b.by - b.ay) for b in lines]) / 2
    return np.flatnonzero(fallen > made_for.one_bridge_up_to_mm + stub + 0.2).tolist()


@pytest.mark.parametrize("process", ["film-laser", "film-knife"])
@pytest.mark.parametrize("seed", [0, 1, 3, 7, 13, 23])
def test_nothing_larger_than_the_process_allows_hangs_on_one_bridge(seed, process):
    assert hung_on_one(ornaments.ornament(seed), known_process(process)) == []


@pytest.mark.parametrize(("seed", "groups"), [(1, 2), (2, 2), (3, 9), (4, 9), (5, 16)])
def test_a_small_island_that_hangs_on_a_large_one_does_not_hold_it(seed, groups):
    svg = islands_with_small_ones_beside(seed, groups)
    assert hung_on_one(svg, known_process("film-laser")) == []
