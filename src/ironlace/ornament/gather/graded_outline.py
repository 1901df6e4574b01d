"""An outline graded: every stretch takes grade and source from the evidence it lies on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Bools, Floats, Ints
from ironlace.evidence.grades import Grade
from ironlace.ornament.gather.blind_places import near_blind, why_blind
from ironlace.ornament.gather.eaten_rims import DOUBTED_BELOW, rim_measures, rim_odds, seen_from
from ironlace.ornament.gather.edge_paint import paint_measures
from ironlace.ornament.gather.gathered import NO_SOURCE, U8, Gathered
from ironlace.ornament.gather.known_edges import MEASURES, learnt_odds
from ironlace.ornament.gather.lone_specks import LONE_SPECK, dirt_among, pointed_at
from ironlace.ornament.gather.loss_edges import (
    EDGE_OF_A_LOSS,
    LIKELY,
    U16,
    along_ring,
    in_question,
    lines_of,
    near_wear,
    picture_at,
    ring_length,
    shown,
    shown_for_long,
    way_along,
)
from ironlace.ornament.gilt.gilt_map import Touch
from ironlace.ornament.outline.drawing import ClosedPath, Drawing, each_point, split_curve

LOST: Final = 254
"""Stands for the edge of a loss among the numbers of sources."""
BLIND: Final = 253
"""The first of the numbers that stand for blind places, counted down, among those of sources."""
EATEN: Final = 240
"""Stands for a rim that may be eaten, likewise."""
MAY_BE_EATEN: Final = "a rim that may be eaten"
"""Name of the source of what our own photographs show, where rims of the gilt are eaten."""
AT_A_BLIND_PLACE: Final = "at a blind place: "
"""Begins the source of a stretch where the photograph's sight ends; the reason follows."""
PUSHED: Final = 239
"""Stands for paint that may have been pushed aside, likewise."""
MAY_BE_PUSHED: Final = "paint that may have been pushed aside"
"""Name of the source of what our own photographs show, where no two copies lie on one another."""
LEAST_RUN_MM: Final = 0.15
"""Shorter changes of source along an outline are not told apart: half the width of a hairline."""
JUST_INSIDE_MM: Final = 0.12
"""So far from an outline it is plain on which side the gilt lies: half of a thin hairline."""
CRUMB_MM: Final = 1.05
"""An island with less outline beside wear is what a loss left over, unless two sources show it."""
OWN_SHARE: Final = 0.7
"""Of the gilt just around an outline our own photographs show so much where it is seen. Half would
be the middle; 0.1 less is right by 0.4 % oftener on three worn ornaments, and what it calls seen
is true by 0.4 % more seldom."""
STEP_MM: Final = 0.04
"""Apart so far the evidence is asked along a curve; less than a pixel of most photographs."""
_JUST_AROUND: Final = tuple(
    JUST_INSIDE_MM * share * np.array([np.cos(turn), np.sin(turn)])
    for share, count in ((1.0, 12), (0.5, 6))
    for turn in np.arange(count) * 2.0 * np.pi / count
)
"""Places round a point of an outline at which it is asked whose the paint is."""


def graded(drawing: Drawing, gathered: Gathered, touches: Sequence[Touch] = ()) -> Drawing:
    """The drawing with every stretch graded; curves are cut where the evidence changes.

    Parameters
    ----------
    drawing
        Outlines traced from the gathered coverage, surface mm.
    gathered
        The evidence.
    touches
        Places the user pointed at: an island pointed at as gilt is no dirt, however alone.
    """
    blind = {why: near_blind(gathered, mask) for why, mask in why_blind(gathered).items()}
    worn = None
    if gathered.witnesses is not None:
        worn = near_wear(gathered.disputed, gathered.px_per_mm)
    lost = _lost(drawing, gathered, worn)
    eaten = _eaten(drawing, gathered)
    paths = [
        _graded(path, gathered, *where, rims, blind)
        for path, where, rims in zip(drawing.paths, lost, eaten, strict=True)
    ]
    return drawing.with_paths(_without_dirt(paths, gathered, worn, touches))


def _without_dirt(
    paths: Sequence[ClosedPath],
    gathered: Gathered,
    worn: U8 | None,
    touches: Sequence[Touch],
) -> list[ClosedPath]:
    """Paths, with specks conjectured that other copies would show if they were paint."""
    if worn is None or gathered.rims is None:
        return list(paths)
    rings = [along_ring(path.curves)[0] - np.asarray(gathered.origin_mm) for path in paths]
    own = gathered.coverage if gathered.own is None else gathered.own
    islands = [path.area > 0 for path in paths]
    evidence = own, gathered.rims, worn
    dirt = dirt_among(rings, islands, *evidence, gathered.px_per_mm)
    x, y = gathered.origin_mm
    vouched = pointed_at(
        rings, islands, [(t.x_mm - x, t.y_mm - y, t.radius_mm) for t in touches if t.is_gilt]
    )
    out = list(paths)
    for n, path in enumerate(paths):
        if dirt[n] and n in vouched:
            out[n] = _as_photographed(path, gathered)
        elif dirt[n]:
            out[n] = ClosedPath.of(path.curves, Grade.CONJECTURED, LONE_SPECK, path.layer)
    return out


def _as_photographed(path: ClosedPath, gathered: Gathered) -> ClosedPath:
    """An island that was pointed at as gilt: that no other copy shows it says nothing against it.

    Where rims are eaten or pushed aside, or the place is blind, it stays as it was graded.
    """
    alone = [source == EDGE_OF_A_LOSS for source in path.sources]
    return ClosedPath(
        path.curves,
        tuple(gathered.grades[0] if a else g for a, g in zip(alone, path.grades, strict=True)),
        tuple(gathered.names[0] if a else s for a, s in zip(alone, path.sources, strict=True)),
        path.layer,
    )


def _graded(
    path: ClosedPath,
    gathered: Gathered,
    places: Floats,
    lost: Bools,
    eaten: Floats | None,
    blind: Mapping[str, U8],
) -> ClosedPath:
    counts = np.clip(np.ceil(path.lengths / STEP_MM), 3, 400).astype(np.int64)
    first = np.concatenate([[0], np.cumsum(counts)])
    index = np.repeat(np.arange(path.nodes), counts)
    t = (np.arange(len(index)) - first[index] + 0.5) / counts[index]
    points = each_point(path.curves[index], t)
    votes = _spoken_for(gathered, points)
    for n, near in enumerate(blind.values()):
        # what another source vouches for there stands; what the photograph shows ends there
        ends = (_at_reduced(gathered, near, points) > 0) & np.isin(votes, (0, NO_SOURCE))
        votes = np.where(ends, BLIND - n, votes)
    nearest = np.clip(np.searchsorted(places, index + t), 0, len(places) - 1)
    seen = [n for n, grade in enumerate(gathered.grades) if grade is Grade.SEEN]
    ours = np.isin(votes, seen)
    if gathered.pushed:
        votes = np.where(ours, PUSHED, votes)
    if eaten is not None:
        votes = np.where(ours & (eaten[nearest] < seen_from(gathered.eaten)), EATEN, votes)
        votes = np.where(ours & (eaten[nearest] < DOUBTED_BELOW), LOST, votes)
    if lost.any():
        votes = np.where(lost[nearest] & _vouched_for(votes, gathered), LOST, votes)
    curves: list[Floats] = []
    grades: list[Grade] = []
    sources: list[str] = []
    for n, (curve, length) in enumerate(zip(path.curves, path.lengths, strict=True)):
        count = int(counts[n])
        least = max(1, round(LEAST_RUN_MM / max(length / count, 1e-6)))
        runs = _runs(votes[first[n] : first[n + 1]], least)
        cuts = [end / count for _, _, end in runs[:-1]]
        pieces = split_curve(curve, cuts) if cuts else [curve]
        for piece, (vote, _, _) in zip(pieces, runs, strict=True):
            curves.append(piece)
            grade, name = _told(vote, gathered, tuple(blind))
            grades.append(grade)
            sources.append(name)
    ring = np.array(curves)
    ring[:, 3] = np.roll(ring[:, 0], -1, axis=0)
    return ClosedPath(ring, tuple(grades), tuple(sources), path.layer)


def _spoken_for(gathered: Gathered, points: Floats) -> Ints:
    """Who speaks for the outline at points: whose most of the paint just inside it is.

    On the outline itself the paint of two sources looks alike, half a pixel covered by each; so it
    is asked how much of the paint around our own photographs show, and only then whose the rest is.
    """
    sources = len(gathered.names)
    paint = np.zeros((sources + 1, len(points)), np.int64)
    for aside in _JUST_AROUND:
        whose = np.minimum(_at(gathered, gathered.source, points + aside), sources)
        cover = _at(gathered, gathered.coverage, points + aside)
        paint[whose, np.arange(len(points))] += cover > 127
    seen = np.array([grade is Grade.SEEN for grade in gathered.grades] + [False])
    most = paint.argmax(axis=0)
    ours = _mostly_own(gathered, points)
    if gathered.own is not None:
        # where our own photographs show enough the others are not asked, and the reverse
        among = np.where(seen[:, None] == ours, paint, 0)
        most = np.where(among.any(axis=0), among.argmax(axis=0), most)
    whose = np.where(most == sources, NO_SOURCE, most)
    whose = np.where(paint.any(axis=0), whose, _at(gathered, gathered.source, points))
    # nothing was taken where the mirror image shows more: our outline is a loss's there
    return whose if gathered.own is not None else np.where(ours, whose, LOST)


def _mostly_own(gathered: Gathered, points: Floats) -> Bools:
    """Where our own photographs show `OWN_SHARE` and more of the paint just around points.

    Of the paint that was gathered; or, where none was taken from another, of what that shows.
    """
    if gathered.own is None and gathered.rims is None:
        return np.ones(len(points), np.bool_)
    drawn, held = np.zeros(len(points)), np.zeros(len(points))
    for aside in _JUST_AROUND:
        cover = _at(gathered, gathered.coverage, points + aside)
        own = cover if gathered.own is None else _at(gathered, gathered.own, points + aside)
        if gathered.own is None and gathered.rims is not None:
            cover = np.maximum(cover, _at(gathered, gathered.rims, points + aside))
        drawn += np.where(cover > 127, cover, 0)
        held += np.where(cover > 127, np.minimum(own, cover), 0)
    return np.asarray(held >= OWN_SHARE * drawn)


def _lost(drawing: Drawing, gathered: Gathered, worn: U8 | None) -> list[tuple[Floats, Bools]]:
    """For each path places along it (curve + parameter), and which lie on the edge of a loss."""
    if worn is None or gathered.witnesses is None:
        if gathered.rims is None:
            return [(np.zeros(1), np.zeros(1, np.bool_))] * len(drawing.paths)
        alike = [along_ring(path.curves)[1] for path in drawing.paths]
        return [(places, np.zeros(len(places), np.bool_)) for places in alike]
    out, stretches, told = [], [], []
    known = gathered.known_edges
    is_worn = known is not None and bool(known[:, MEASURES].any())
    for path in drawing.paths:
        points, places = along_ring(path.curves)
        near = _at(gathered, worn, points) > 0
        lost = np.zeros(len(points), np.bool_)
        out.append((places, lost))
        if near.any() or is_worn:
            side = _gilt_side(points, gathered)
            way = side * way_along(points)
            twice = shown(_at(gathered, gathered.witnesses, points), way)
            if ring_length(points) < CRUMB_MM:
                lost |= near & ~twice
                continue
            # what stands on one side alone, as a word, nothing disputes where it is worn
            parts, shape = in_question(points, twice, near | (is_worn & ~twice), side)
            stretches += [(lost, twice, part) for part in parts]
            where = gathered.px_per_mm, gathered.origin_mm
            paint = paint_measures(parts, points, side, gathered.coverage, *where)
            line = lines_of(parts, points) - (0.0, *gathered.origin_mm)
            line[:, 0] += 0.0 if side > 0 else np.pi
            told.append(np.column_stack([shape, paint, line]))
    if stretches:
        odds = learnt_odds(gathered.known_edges, np.concatenate(told))
        for (lost, twice, part), likely in zip(stretches, odds > LIKELY, strict=True):
            lost[part] = likely & ~shown_for_long(twice[part])
    return out


def _eaten(drawing: Drawing, gathered: Gathered) -> Sequence[Floats | None]:
    """How likely places of `along_ring` are whole rims; None where nothing says any are eaten."""
    if gathered.rims is None:
        return [None] * len(drawing.paths)
    own = gathered.coverage if gathered.own is None else gathered.own
    rings = [ring_of(path, gathered) for path in drawing.paths]
    told = rim_measures(rings, own, gathered.rims, gathered.px_per_mm)
    return [1.0 / (1.0 + np.exp(-rim_odds(one))) for one in told]


def ring_of(path: ClosedPath, gathered: Gathered) -> tuple[Floats, Floats]:
    """A path's ring of `along_ring`, mm from the pictures' corner, and unit vectors inwards."""
    points, _ = along_ring(path.curves)
    inwards = _aside(points) * (_gilt_side(points, gathered) / JUST_INSIDE_MM)
    return points - np.asarray(gathered.origin_mm), inwards


def _gilt_side(points: Floats, gathered: Gathered) -> int:
    """1 where the gilt lies on the side to which a turn from x towards y bends, else -1."""
    aside = _aside(points)
    here = _at(gathered, gathered.coverage, points + aside).mean()
    return 1 if here > _at(gathered, gathered.coverage, points - aside).mean() else -1


def _aside(points: Floats) -> Floats:
    """From each point of a ring `JUST_INSIDE_MM` square to it, to the side a turn bends to."""
    way = np.roll(points, -2, axis=0) - np.roll(points, 2, axis=0)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    return np.stack([-way[:, 1], way[:, 0]], axis=1) * JUST_INSIDE_MM


def _vouched_for(votes: Ints, gathered: Gathered) -> Bools:
    """Where a source speaks that is no guess itself."""
    guessed = [i for i, grade in enumerate(gathered.grades) if grade is Grade.CONJECTURED]
    speaks = (votes < len(gathered.names)) | np.isin(votes, (EATEN, PUSHED))
    return np.asarray((votes != NO_SOURCE) & speaks & ~np.isin(votes, guessed))


def _told(vote: int, gathered: Gathered, blind: Sequence[str]) -> tuple[Grade, str]:
    if BLIND - len(blind) < vote <= BLIND:
        return Grade.CONJECTURED, AT_A_BLIND_PLACE + blind[BLIND - vote]
    if vote == LOST:
        return Grade.CONJECTURED, EDGE_OF_A_LOSS
    if vote == EATEN:
        return Grade.INFERRED, MAY_BE_EATEN
    if vote == PUSHED:
        return Grade.INFERRED, MAY_BE_PUSHED
    if vote == NO_SOURCE:
        return Grade.CONJECTURED, "none"
    return gathered.grades[vote], gathered.names[vote]


def _at(gathered: Gathered, picture: U8 | U16, xy: Floats) -> Ints:
    """Values of a picture on the gathered grid at places in mm."""
    return picture_at(picture, xy - np.asarray(gathered.origin_mm), gathered.px_per_mm)


def _at_reduced(gathered: Gathered, picture: U8, xy: Floats) -> Ints:
    """Values of a picture on the reduced grid at places in mm."""
    scale = gathered.px_per_mm * picture.shape[1] / gathered.coverage.shape[1]
    return picture_at(picture, xy - np.asarray(gathered.origin_mm), scale)


def _runs(votes: Ints, least: int) -> list[tuple[int, int, int]]:
    """Runs of equal votes as (vote, begin, end); runs shorter than ``least`` join a neighbour."""
    if (votes == votes[0]).all():
        return [(int(votes[0]), 0, len(votes))]
    edges = np.concatenate([[0], np.flatnonzero(np.diff(votes)) + 1, [len(votes)]])
    runs = [(int(votes[a]), int(a), int(b)) for a, b in pairwise(edges)]
    while len(runs) > 1:
        short = min(range(len(runs)), key=lambda i: runs[i][2] - runs[i][1])
        if runs[short][2] - runs[short][1] >= least:
            break
        beside = [i for i in (short - 1, short + 1) if 0 <= i < len(runs)]
        into = max(beside, key=lambda i: runs[i][2] - runs[i][1])
        begin = min(runs[short][1], runs[into][1])
        end = max(runs[short][2], runs[into][2])
        low = min(short, into)
        runs[low : low + 2] = [(runs[into][0], begin, end)]
        if low + 1 < len(runs) and runs[low + 1][0] == runs[low][0]:
            runs[low : low + 2] = [(runs[low][0], runs[low][1], runs[low + 1][2])]
        if low > 0 and runs[low - 1][0] == runs[low][0]:
            runs[low - 1 : low + 1] = [(runs[low][0], runs[low - 1][1], runs[low][2])]
    return runs
