"""A judge of finished sheet files that is told nothing of the plan: it looks at pictures of them.

Every file is drawn by resvg at 40 pixels to the mm. One piece, thin webs, what hangs on a single
narrow place, and what hands that are off register lose and lay beside are all found in the pictures
by OpenCV, scikit-image and networkx.
"""

import io
import math
import re

import cv2
import networkx as nx
import numpy as np
from PIL import Image

PX_PER_MM = 40
"""Pixels to the mm: a web of 0.7 mm is 28 pixels wide."""

AIR_MM = 2
"""Sheet shown around the openings."""


def painted(svg_body, window, px_per_mm=PX_PER_MM):
    """Where a renderer paints within a window (left, top, wide, high) of whole mm."""
    import resvg_py

    left, top, wide, high = window
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
        f'viewBox="{left} {top} {wide} {high}">{svg_body}</svg>'
    )
    zoom = px_per_mm / (96 / 25.4)
    # the canvas is rounded to whole pixels at a zoom of one: the scale is the zoom's all the same
    png = resvg_py.svg_to_bytes(svg_string=svg, zoom=zoom, dpi=96, skip_system_fonts=True)
    # by what covers, whatever its colour
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"))[..., 3] > 127


def drawing_of(svg, window):
    """Where a drawing paints within its own page."""
    left, top, wide, high = map(float, re.search(r'viewBox="([^"]*)"', svg)[1].split())
    page = f'<clipPath id="page"><rect x="{left}" y="{top}" width="{wide}" height="{high}"/>'
    return painted(f'{page}</clipPath><g clip-path="url(#page)">{body_of(svg)}</g>', window)


def body_of(svg):
    """What stands within an SVG's root."""
    return svg[svg.index(">", svg.index("<svg")) + 1 : svg.rindex("</svg>")]


def openings_of(svg):
    """The group of a sheet's file that is cut out for paint."""
    return re.search(r'<g id="openings".*?</g>', svg, re.DOTALL)[0]


def window_of(svg):
    """The page of a file in whole mm, a little larger."""
    left, top, wide, high = map(float, re.search(r'viewBox="([^"]*)"', svg)[1].split())
    a, b = math.floor(left) - AIR_MM, math.floor(top) - AIR_MM
    return a, b, math.ceil(left + wide) + AIR_MM - a, math.ceil(top + high) + AIR_MM - b


def film_of(svg, window):
    """What is left of a sheet once its openings are cut, as True."""
    film = ~painted(openings_of(svg), window)
    film[[0, -1]] = film[:, [0, -1]] = True
    return film


def _opened(film, across_px):
    """What a disc reaches that stays within the film: distances are quicker than a large disc."""
    inner = cv2.distanceTransform(film.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    # distances run from pixel to pixel: half a pixel less to the edge between two
    outside = (inner - 0.5 < across_px / 2).astype(np.uint8)
    return cv2.distanceTransform(outside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) <= across_px / 2


def pieces_of(film):
    """Number of pieces, edge to edge, but for single pixels where two shapes' edges meet."""
    count, _, stats, _ = cv2.connectedComponentsWithStats(film.astype(np.uint8), connectivity=4)
    return int((stats[1:count, cv2.CC_STAT_AREA] > 4).sum())


def thin_webs_of(film, least_mm, slack_px=2.0):
    """Middles in pixels of what is thinner than a web may be and joins two reaches of the film."""
    opened = _opened(film, least_mm * PX_PER_MM - slack_px).astype(np.uint8)
    thin = film.astype(np.uint8) & (1 - opened)
    count, piece, stats, middles = cv2.connectedComponentsWithStats(thin, connectivity=8)
    found = []
    for n in range(1, count):
        x, y, wide, high, area = stats[n]
        if area < (0.2 * least_mm * PX_PER_MM) ** 2:
            continue
        part = np.s_[max(y - 2, 0) : y + high + 2, max(x - 2, 0) : x + wide + 2]
        rim = cv2.dilate((piece[part] == n).astype(np.uint8), np.ones((3, 3), np.uint8))
        touching = rim & opened[part]
        runs, _, sizes, _ = cv2.connectedComponentsWithStats(touching, connectivity=8)
        # a run of a few pixels is a corner that the disc rounded off
        if (sizes[1:runs, cv2.CC_STAT_AREA] > 0.25 * least_mm * PX_PER_MM).sum() > 1:
            found.append(tuple(middles[n]))
    return found


def _reaches(film, across_px):
    """Reaches that a disc of a width finds room in, grown along the film until they meet.

    Returns
    -------
    count
        One more than there are reaches.
    markers
        Reach of every pixel, from 1; 0 or less, or ``count``, where there is none.
    meets
        Where a reach meets another, not where it meets an opening.
    low, high
        The two reaches there.
    away
        Distance to the next opening in pixels.
    """
    whole = film.astype(np.uint8)
    away = cv2.distanceTransform(whole, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    count, reach = cv2.connectedComponents((away > across_px / 2).astype(np.uint8), connectivity=8)
    # every pixel of the film goes to the reach that gets to it first along the film
    markers = np.where(film, reach, count).astype(np.int32)
    # the openings are another height, so that nothing grows out of them before all is taken
    cv2.watershed(np.repeat(whole[..., None] * 255, 3, axis=2), markers)
    own = np.where((markers > 0) & (markers < count), markers, 0).astype(np.float32)
    square = np.ones((3, 3), np.uint8)
    high = cv2.dilate(own, square)
    low = count - cv2.dilate(np.where(own > 0, count - own, 0.0).astype(np.float32), square)
    meets = ((high > 0) & (low < count) & (high > low) & film).astype(np.uint8)
    return count, markers, meets, low, high, away


def narrow_meetings_of(film, least_mm, slack_px=2.0, at_a_point=0.8):
    """Middles in pixels of where two reaches meet across less than a web may be wide.

    Between two tips that face each other a disc covers all of the film, from one side or the
    other, and yet goes not through: opening does not find them.
    """
    least = least_mm * PX_PER_MM - slack_px
    _, _, meets, _, _, away = _reaches(film, least)
    runs, run, _, middles = cv2.connectedComponentsWithStats(meets, connectivity=8)
    return [
        tuple(middles[n]) for n in range(1, runs) if 2 * away[run == n].max() < at_a_point * least
    ]


def hung_on_one(film, width_mm):
    """Longest extent in mm of what falls if one place no wider than a bridge is cut, for each.

    The film is drawn in by half a bridge: what is left are its reaches, and where two of them meet
    when they grow again is a place as narrow as a bridge. Of reaches and places a graph is made,
    and every single place is cut. Whether the place is a bridge or was drawn so makes no odds.

    Returns
    -------
    falls
        (extent in mm, x and y of the place in pixels) of each place that is the only hold.
    """
    count, markers, meets, low, high, _ = _reaches(film, 1.12 * width_mm * PX_PER_MM)
    _, run, _, middles = cv2.connectedComponentsWithStats(meets, connectivity=8)
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(1, count))
    at = np.flatnonzero(meets)
    told = np.stack([run.flat[at], low.flat[at], high.flat[at]], axis=1).astype(int)
    graph.add_edges_from((a, b, {"run": n}) for n, a, b in np.unique(told, axis=0).tolist())
    sheet = int(markers[1, 1])
    single = nx.Graph(graph)
    falls = []
    for one, two in list(nx.bridges(single)):
        if graph.number_of_edges(one, two) > 1:
            continue
        n = next(iter(graph[one][two].values()))["run"]
        single.remove_edge(one, two)
        sides = (nx.node_connected_component(single, side) for side in (one, two))
        loose = next(side for side in sides if sheet not in side)
        single.add_edge(one, two)
        points = np.argwhere(np.isin(markers, list(loose)))[:, ::-1].astype(np.float32)
        falls.append((2 * cv2.minEnclosingCircle(points)[1] / PX_PER_MM, *middles[n]))
    return falls


def wide_difference(one, two):
    """Pixels of what two pictures do not share and what is two pixels wide."""
    differs = (one ^ two).astype(np.uint8)
    return int(cv2.erode(differs, np.ones((2, 2), np.uint8)).sum())


def faults_of(films, drawn, bridge_mm, one_bridge_mm, tongue_mm):
    """Sentences on what is wrong with the films of a set, the first of them bridged."""
    wrong = []
    for n, film in enumerate(films, start=1):
        if (pieces := pieces_of(film)) != 1:
            wrong.append(f"sheet {n} is in {pieces} pieces")
        for extent, x, y in hung_on_one(film, bridge_mm):
            # a place that the drawing leaves unpainted is a neck of its own, and no bridge
            bridge = n > 1 or drawn[round(y), round(x)]
            if extent > (one_bridge_mm + 1.0 if bridge else tongue_mm):
                wrong.append(f"sheet {n}: {extent:.1f} mm hang on one place at pixel {x, y}")
    return wrong


def shifted(picture, off_px, way):
    """A picture moved by so many pixels in a direction."""
    rows, columns = picture.shape
    move = np.float32([[1, 0, off_px * np.cos(way)], [0, 1, off_px * np.sin(way)]])
    # by parts of a pixel too: rounded to whole ones, 0.2 mm aslant would be 0.19
    moved = cv2.warpAffine(picture.astype(np.uint8) * 255, move, (columns, rows))
    return moved > 127


def worst_hands(drawn, through, off_mm, ways=32, rounds=2):
    """Shares (lost, beside) of a drawing when the worst of hands lays its sheets.

    Every sheet after the first is off by as much as is told, each its own way. The ways are sought
    sheet by sheet, round after round, until no sheet makes it worse by going another.
    """
    turns = np.arange(ways) * 2 * np.pi / ways
    moved = [[shifted(p, off_mm * PX_PER_MM, t) for t in turns] for p in through[1:]]
    choice = [0] * len(moved)
    total = drawn.sum()

    def shares(chosen):
        laid = through[0].copy()
        for pictures, n in zip(moved, chosen, strict=True):
            if n is not None:
                laid |= pictures[n]
        return (drawn & ~laid).sum() / total, (laid & ~drawn).sum() / total

    # one further sheet has nothing to wait for
    for _ in range(min(rounds, len(moved)) if off_mm else 0):
        for at in range(len(moved)):
            choice[at] = max(
                range(ways), key=lambda n: sum(shares([*choice[:at], n, *choice[at + 1 :]]))
            )
    return shares(choice) if off_mm else shares([0] * len(moved))
