"""Worn plates read place by place with noise, and what an honest reader can then say of a row.

Nothing here comes of the survey: each figure leaves a score for each of ten shapes, each gap a
depth, with Gaussian noise; Bayes' rule gives the chances of each place, and all rows that they
allow are listed outright, the likeliest first.
"""

import math
from itertools import product

FIGURES = "0123456789"


def scores(true, ratio, rng):
    """Scores of ten shapes where one was struck: `ratio` noises above the others."""
    return [rng.normal() + (ratio if shape == true else 0.0) for shape in FIGURES]


def chances(scored, ratio, sure):
    """Chance of each shape by its score; `sure` above 1 is a reader too sure of himself."""
    logs = [sure * ratio * score for score in scored]
    top = max(logs)
    weights = [math.exp(log - top) for log in logs]
    return [weight / sum(weights) for weight in weights]


def read_row(text, rng, *, figure=4.0, dot=3.0, sure=1.0, most=200, enough=0.99):
    """Read a row of figures and single dots; gives the mark in brackets, and rows with chances.

    `figure` and `dot` say how many noises the right shape and a struck dot stand out; with a `dot`
    of nought nothing can be told of any gap.
    """
    struck = [(c, text[i + 1 : i + 2] == ".") for i, c in enumerate(text) if c in FIGURES]
    places, mark = [], ""
    for i, (shape, dotted) in enumerate(struck):
        p = chances(scores(shape, figure, rng), figure, sure)
        kept = [(c, q) for c, q in zip(FIGURES, p, strict=True) if q > 1e-4]
        places.append(kept)
        may = [c for c, q in kept if q > 0.02]
        mark += may[0] if len(may) == 1 else "?" if len(may) > 5 else f"[{''.join(may)}]"
        if i == len(struck) - 1:
            break
        depth = rng.normal() + (dot if dotted else 0.0)
        log_odds = sure * (dot * depth - dot * dot / 2.0)
        q = 1.0 / (1.0 + math.exp(-log_odds))
        places.append([(".", q), ("", 1.0 - q)])
        mark += "." if q > 0.98 else "(.)" if q > 0.02 else ""
    told, held = [], 0.0
    for row, p in all_rows(places, most):
        told.append((row, p))
        held += p
        if held >= enough:
            break
    return mark, told


def all_rows(places, most):
    """The likeliest rows that the places allow, likeliest first."""
    rows = [("", 1.0)]
    for kept in places:
        rows = [(row + sign, p * q) for (row, p), (sign, q) in product(rows, kept)]
        # what begins one of the likeliest rows is among the likeliest beginnings
        rows = sorted(rows, key=lambda pair: -pair[1])[:most]
    return rows
