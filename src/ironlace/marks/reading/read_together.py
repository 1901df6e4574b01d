"""All digits of a plate read together, by what they share and by what bare metal shows.

A plate was struck with one set of punches, worn in one way, and photographed in one light. So how
its figures are cut, which way they were worn, and how much of a place a strike tells (the share of
its slopes, as a correlation) are the same for all its digits. None is known; each combination is as
probable as all digits together make it, among them that nothing is left at all. Digits are then
averaged over the combinations, not read by the best. Bare metal of the plate is laid alike, and
what it shows of figures that are not there is taken off: on metal of few large pits slopes are no
Gaussian noise, and would speak louder than they should.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ironlace.marks.reading.cut_doubt import beside_fellows, unshared
from ironlace.marks.reading.known_shapes import shift_logs
from ironlace.marks.reading.strings import Shared

Logs = NDArray[np.float64]

TOLD = np.geomspace(0.06, 0.95, 10)
"""Correlations that the strike of the right figure may have with its place."""
_SPREAD = 0.25
"""Spread of a digit's correlation about its plate's, in logarithms: struck unlike deep, pits."""
_COMMON = 0.5
"""Share of all digits' evidence that counts for what they share: they err together, where a face or
a way of wear is not quite any that is tried (fitted on tuning plates; 0.4 to 1 read alike)."""
_SCRATCHED = 0.2
"""Share of bare places through which scratches may run (judged): one of five, two of twelve."""
_LEFT_NOTHING = 0.05
"""Chance that a plate shows nothing of its digits, before it is looked at (judged)."""
_EMPTY = 0.01
"""Chance that nothing was struck at a place given as a digit's (judged)."""
_STRANGE = 0.02
"""Chance that something else was struck there, such as a letter (judged)."""
_OTHER = 0.03
"""Chance that a place shows something else that we cannot name (judged)."""
_MOSTLY_ONE = 0.5
"""Chance that what speaks for a figure at all places alike was struck at most of them: no bias
(judged: nothing tells). Of two plates worn to 0.9, 13 and 15 of 18 figures the same, 1.00 were
right before `unshared`, 0.67 and 0.50 with it alone (0.80 and 0.69 stated), and 0.94 with the half
(0.82 and 0.72); leaning faces at 0.95 lose as much either way (`bench/README.md`)."""
_FAR = 9.0
"""Shifts less probable than this, in logarithms, are not looked at."""
_APART = 24
"""Combinations, the likeliest, by which strings are told one by one; the others are averaged."""


@dataclass(frozen=True)
class Together:
    """What all digits of a plate tell together.

    Attributes
    ----------
    shared
        Chance of each glyph at each place by hypotheses of what the plate shares; even where
        nothing is told.
    left
        Chance that the plate shows anything of its digits.
    empty, strange, other
        Chance that a place shows nothing though others do, another sign than the glyphs, or
        something that its own oddities speak for.
    """

    shared: Shared
    left: float
    empty: NDArray[np.float64]
    strange: NDArray[np.float64]
    other: NDArray[np.float64]


def evidence(laid: NDArray[np.float32], slopes: float) -> NDArray[np.float32]:
    """Log-likelihood of each template, against nothing, at each correlation; templates x told.

    Parameters
    ----------
    laid
        Correlation of every template at every shift, in the order of `shift_logs`; shifts are
        averaged over by their probability.
    slopes
        How many independent slopes the place holds.

    Slopes of a place, scaled to norm 1, are taken for the template times its correlation and
    Gaussian noise that fills up the norm.
    """
    logs = shift_logs()
    near = logs > logs.max() - _FAR
    chance = np.exp(logs[near] - logsumexp(logs[near])).astype(np.float32)
    r = laid[:, near]
    best = r.max(axis=1)
    found = np.empty((len(r), len(TOLD)), np.float32)
    for k, told in enumerate(TOLD):
        steep = np.float32(slopes * told / (1 - told**2))
        bent = -0.5 * slopes * np.log1p(-(told**2)) - told * steep
        found[:, k] = steep * best + np.log(np.exp(steep * (r - best[:, None])) @ chance) + bent
    return found


def read_together(
    seen: Logs,
    bare: Logs,
    strange: Logs | None = None,
    *,
    others: NDArray[np.float64] | None = None,
    credit: float = 0.0,
    heat: NDArray[np.float64] | None = None,
    cuts: bool = False,
) -> Together:
    """Read all places together.

    Parameters
    ----------
    seen
        Log-likelihoods against nothing, places x glyphs x combinations x correlations (`TOLD`).
    bare
        The same of bare places.
    strange
        Log-likelihoods of other signs than the glyphs, places x correlations, if any are known.
    others
        Log-likelihood that a place shows something else than what fits it best
        (`odds_of_others`); None: nothing is known.
    credit
        How much bare metal that fits worse than noise would may speak for a combination, in
        logarithms for each place.
    heat
        Power to which what each place tells of its glyph counts (`bare_metal.moderated`); None for
        in full. What it tells of all that the plate shares is left as it is.
    cuts
        Whether cuts of ours were laid (`cut_doubt`).
    """
    seen = _spread(seen)
    bare = _spread(bare) if len(bare) else bare
    some = logsumexp(seen, axis=1) - np.log(seen.shape[1])
    one, all_ = _false(bare, 1.0), _false_of_all(bare, credit)
    letters = np.full((len(seen), len(TOLD)), -np.inf) if strange is None else _spread(strange)
    odd = np.log(_OTHER) + (np.zeros(len(seen)) if others is None else others)
    odd = (odd - np.logaddexp(odd, np.log1p(-_OTHER)))[:, None, None]
    rest = np.array([np.log(_EMPTY)]), letters[:, None, :] + np.log(_STRANGE)
    some = some + np.log(1 - _EMPTY - _STRANGE)
    parts = np.stack(np.broadcast_arrays(some - np.maximum(one, 0), *rest))
    each = logsumexp(parts, axis=0)
    shared = logsumexp(np.stack(np.broadcast_arrays(some - all_, *rest)), axis=0)
    whole = _COMMON * shared.sum(axis=0) + np.log((1 - _LEFT_NOTHING) / shared[0].size)
    whole_or_none = np.logaddexp(logsumexp(whole), np.log(_LEFT_NOTHING))
    chance = np.exp(whole - whole_or_none)
    glyphs = _of_cuts(seen, heat) if cuts else _glyphs(seen, heat)
    listed, empty, strange_ = np.exp(parts - each)
    other = listed * np.exp(odd)
    listed = listed - other
    p = glyphs * listed[:, None] + (1 - listed[:, None]) / seen.shape[1]
    left = float(chance.sum())
    return Together(
        _likeliest(p, chance),
        left,
        (empty * chance).sum(axis=(1, 2)),
        (strange_ * chance).sum(axis=(1, 2)),
        (other * chance).sum(axis=(1, 2)),
    )


def _glyphs(logs: Logs, heat: NDArray[np.float64] | None) -> Logs:
    """Chance of each glyph at each place by each combination."""
    logs = logs if heat is None else heat[:, None, None, None] * logs
    return np.asarray(np.exp(logs - logsumexp(logs, axis=1, keepdims=True)))


def _of_cuts(seen: Logs, heat: NDArray[np.float64] | None) -> Logs:
    """Chance of each glyph where cuts were laid that are not the punches (`cut_doubt`)."""
    power = beside_fellows(seen)
    struck, shared = _glyphs(power * seen, heat), _glyphs(power * unshared(seen), heat)
    return _MOSTLY_ONE * struck + (1 - _MOSTLY_ONE) * shared


def either(one: Together, other: Together) -> Together:
    """Two ways of reading a plate, each as likely: one more thing that all its digits share."""
    weights = np.concatenate([one.shared.weights, other.shared.weights]) / 2
    return Together(
        Shared(weights, np.concatenate([one.shared.p, other.shared.p])),
        (one.left + other.left) / 2,
        (one.empty + other.empty) / 2,
        (one.strange + other.strange) / 2,
        (one.other + other.other) / 2,
    )


def lain(logs: Logs, bare: Logs, credit: float = 0.0) -> Logs:
    """What each place tells of what the plate shares; places x combinations and correlations.

    Parameters
    ----------
    logs
        Log-likelihoods against nothing, places x glyphs x combinations x correlations, as the
        plate lies or laid another way.
    bare, credit
        As for `read_together`.

    So much of the log-likelihood counts as of all digits of a plate; a place may show none of them.
    """
    false = _false_of_all(_spread(bare) if len(bare) else bare, credit)
    some = logsumexp(_spread(logs), axis=1) - np.log(logs.shape[1]) - false
    either = np.logaddexp(some + np.log1p(-_EMPTY - _STRANGE), np.log(_EMPTY + _STRANGE))
    return np.asarray(_COMMON * either.reshape(len(logs), -1))


def _false_of_all(bare: Logs, credit: float) -> Logs:
    """What bare metal shows of figures, taken off all digits of a plate together."""
    return np.maximum(_false(bare, _COMMON), -credit)


def _false(bare: Logs, share: float) -> Logs:
    """What bare metal shows of figures that are not there, where so much of evidence counts.

    The mean of the likelihoods to that power: taken off as many places as a plate has, the mean of
    the whole would hang on the one bare place that fits best. So may even that, where a scratch
    runs through it: the best fifth of the places count as the next best does (a Winsorised mean:
    Tukey, 1962).
    """
    if not len(bare):
        return np.zeros(bare.shape[2:])
    false = logsumexp(bare, axis=1) - np.log(bare.shape[1])
    false = np.minimum(false, np.sort(false, axis=0)[-1 - int(_SCRATCHED * len(false))])
    return np.asarray((logsumexp(share * false, axis=0) - np.log(len(false))) / share)


def _likeliest(p: Logs, chance: Logs) -> Shared:
    """The likeliest combinations, all others as one, and that nothing is left."""
    places, glyphs = p.shape[:2]
    flat, weights = p.reshape(places, glyphs, -1), chance.ravel()
    order = np.argsort(-weights, kind="stable")
    first, rest = order[:_APART], order[_APART:]
    others = float(weights[rest].sum())
    each = [flat[..., k] for k in first]
    each.append((flat[..., rest] @ weights[rest]) / max(others, 1e-300))
    each.append(np.full((places, glyphs), 1.0 / glyphs))
    by = np.append(weights[first], [others, max(1.0 - float(weights.sum()), 0.0)])
    keep = by > 0
    tables = np.stack(each)[keep]
    return Shared(by[keep] / by.sum(), tables / tables.sum(axis=2, keepdims=True))


def _spread(logs: Logs) -> Logs:
    """Each correlation widened to those about it, last axis."""
    at = np.log(TOLD)
    near = np.exp(-0.5 * ((at[:, None] - at[None, :]) / _SPREAD) ** 2)
    near /= near.sum(axis=1, keepdims=True)
    most = logs.max(axis=-1, keepdims=True)
    return np.asarray(most + np.log(np.exp(logs - most) @ near.T), dtype=np.float64)
