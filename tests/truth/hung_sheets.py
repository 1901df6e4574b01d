"""A judge of finished sheets: drawn by a renderer that is none of ours, every bridge cut."""

import io
import math
import re

import cv2
import networkx as nx
import numpy as np
from PIL import Image

PX_PER_MM = 40
_INCH_MM = 25.4


def film_of(svg):
    """What is left of a sheet, as True, and its left upper corner in mm."""
    dpi = round(PX_PER_MM * _INCH_MM)
    import resvg_py

    # labels are told, not cut: a machine with a face for them would show their letters as parts
    png = resvg_py.svg_to_bytes(svg_string=svg, dpi=dpi, background="white", skip_system_fonts=True)
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


def laid_by_hand(drawing_svg, sheets, off_mm, rng, hands=12):
    """Worst shares of (lost, beside) of a drawing over several hands that lay its sheets.

    Sheets and drawing are drawn by the renderer; every sheet after the first is off by as much as
    is told, each hand in other directions. Nothing of the planner's own proof is used.
    """
    left, top, wide, high = map(float, re.search(r'viewBox="([^"]*)"', drawing_svg)[1].split())
    # one window of whole mm for all, so that all lie on the same pixels
    window = (math.floor(left) - 2, math.floor(top) - 2, math.ceil(wide) + 4, math.ceil(high) + 4)
    inner = drawing_svg[drawing_svg.index(">", drawing_svg.index("<svg")) + 1 :]
    inner = re.sub(r'fill="#[0-9a-f]{6}"', 'fill="black"', inner)
    drawn = ~film_of(_head(window) + inner)[0]
    rows, columns = drawn.shape
    cut = [np.nonzero(~film_of(_openings_alone(svg, window))[0]) for svg in sheets]
    total, worst = drawn.sum(), (0.0, 0.0)
    ways = np.arange(16) * np.pi / 8
    for _ in range(hands):
        laid = np.zeros_like(drawn)
        for n, (y, x) in enumerate(cut):
            way = ways[rng.integers(16)]
            reach = off_mm * PX_PER_MM if n else 0.0
            row = np.round(y + reach * np.sin(way)).astype(int)
            column = np.round(x + reach * np.cos(way)).astype(int)
            inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
            laid[row[inside], column[inside]] = True
        found = ((drawn & ~laid).sum() / total, (laid & ~drawn).sum() / total)
        worst = max(worst, found, key=sum)
    return worst


def _head(window):
    left, top, wide, high = window
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
        f'viewBox="{left} {top} {wide} {high}">'
    )


def _openings_alone(svg, window=None):
    """A sheet's SVG with nothing but what is cut out of it, the register holes left away."""
    head = _head(window) if window else svg[: svg.index(">", svg.index("<svg")) + 1]
    group = re.search(r'<g id="openings".*?</g>', svg, re.DOTALL)[0]
    return f'{head}<g fill="black">{group}</g></svg>'


def narrowest_mm(svg, least_mm):
    """Area in mm2 of openings in which a disc of the least width does not fit, as rendered."""
    film, _, scale = film_of(_openings_alone(svg))
    openings = (~film).astype(np.uint8)
    inner = cv2.distanceTransform(openings, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    count, piece = cv2.connectedComponents(openings, connectivity=8)
    reach = least_mm * scale / 2
    too_small = [n for n in range(1, count) if inner[piece == n].max(initial=0.0) < 0.9 * reach]
    return sum(float((piece == n).sum()) for n in too_small) / scale**2
