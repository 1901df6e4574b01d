"""A judge of finished sheets: drawn by a renderer that is none of ours, every bridge cut."""

import io
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

    png = resvg_py.svg_to_bytes(svg_string=svg, dpi=dpi, background="white")
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
