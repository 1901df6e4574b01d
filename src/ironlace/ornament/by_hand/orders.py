"""Changes by hand as plain orders, so that they can be sent, kept, and carried out again.

An order is a mapping with ``do`` and what that needs (see `carry_out`); the same orders on the same
drawing give the same drawing, which is how a reworked drawing is verified.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ironlace.evidence.grades import Grade
from ironlace.ornament.by_hand.area_changes import (
    Replaces,
    fill_from_like,
    fit_of_like,
    lay_stroke,
    refuse_bridge,
    rub_out,
    twin_outlines,
)
from ironlace.ornament.by_hand.fill_likeness import likeness_of
from ironlace.ornament.by_hand.outline_changes import (
    Side,
    move_handle,
    move_node,
    pull_curve,
    put_node,
    take_node,
    take_path,
    take_paths,
    vouch,
)
from ironlace.ornament.by_hand.twin_fit import TwinFit
from ironlace.ornament.by_hand.workpiece import DrawnChange, Evidence, Workpiece
from ironlace.ornament.errors import ReworkError
from ironlace.ornament.outline.drawing import ClosedPath

ACCEPTED: Final = "bridge, accepted"
_LONGEST_SOURCE: Final = 200
"""Characters of what a change by hand gives as its source."""

Bridges = Sequence[Mapping[str, Any]]


def carry_out(work: Workpiece, order: Mapping[str, Any], bridges: Bridges = ()) -> DrawnChange:
    """The change an order asks for.

    Parameters
    ----------
    work
        The drawing on the bench.
    order
        ``do`` is one of: ``move-node`` (path, node, to), ``move-handle`` (path, node, side, to),
        ``pull`` (path, curve, t, to), ``put-node`` (path, curve, t), ``take-node`` (path, node),
        ``take-path`` (path), ``take-paths`` (paths), ``stroke`` (places, widths, layer),
        ``rub-out`` (places, width), ``from-like`` (around, like, replaces), ``vouch`` (path,
        curves), ``accept-bridge`` and ``refuse-bridge`` (bridge). All but the last two may have
        ``evidence`` (grade, source).
        Places are ``[x, y]`` in mm.
    bridges
        Bridges that were proposed for the drawing, each with ``centre_mm`` and ``width_mm``.

    Raises
    ------
    ReworkError
        If the order is not one of these, lacks something, or cannot be carried out.
    """
    what = str(order.get("do", ""))
    if what not in _ORDERS:
        raise ReworkError(f"'{what[:30]}' is nothing that can be done to a drawing.")
    try:
        return _ORDERS[what](work, order, bridges)
    except (KeyError, TypeError, ValueError, IndexError, OverflowError) as error:
        raise ReworkError(
            f"The order '{what}' lacks something or holds what is no number ({error})."
        ) from error


def by_present_rules(order: Mapping[str, Any]) -> dict[str, Any]:  # dict: an order as it is kept
    """An order newly asked for, held to the rules of this version; one already kept needs none.

    A place filled from its like says what the twin may replace, all if nothing is said; without it
    the order would be carried out as versions did that measured nothing.
    """
    plain = dict(order)
    if plain.get("do") == "from-like" and plain.get("replaces") is None:
        plain["replaces"] = "all"
    return plain


@dataclass(frozen=True)
class TwinPreview:
    """Where a twin would land, and how it lies to what is seen."""

    outlines: Sequence[ClosedPath]
    fit: TwinFit


def preview_like(work: Workpiece, order: Mapping[str, Any]) -> TwinPreview:
    """What an order ``from-like`` would lay into its place, nothing being changed.

    Raises
    ------
    ReworkError
        If the order lacks the place or the likeness, or the place is no area.
    """
    try:
        around, likeness = _places(order["around"]), likeness_of(order["like"])
    except (KeyError, TypeError, ValueError) as error:
        raise ReworkError(
            f"To show a twin its place and its like are needed ({error}): go round the place."
        ) from error
    return TwinPreview(twin_outlines(work, around, likeness), fit_of_like(work, around, likeness))


def _replaces(value: Any) -> Replaces | None:
    if value is None:
        return None
    if value == "all":
        return "all"
    if value == "unseen":
        return "unseen"
    raise ValueError("replaces is 'all' or 'unseen'")


def _evidence(order: Mapping[str, Any]) -> Evidence:
    told = order.get("evidence")
    if not told:
        return Evidence()
    source = " ".join(str(told["source"]).split())[:_LONGEST_SOURCE]
    if not source:
        raise ReworkError("Say what the evidence is: the place, the photograph, the other machine.")
    return Evidence(Grade(str(told["grade"])), source)


def _place(value: Any) -> tuple[float, float]:
    x, y = (float(v) for v in value)
    if not (np.isfinite(x) and np.isfinite(y)):
        raise ValueError("a place is not a number")
    return x, y


def _places(value: Any) -> list[tuple[float, float]]:
    return [_place(v) for v in value]


def _bridge(order: Mapping[str, Any], bridges: Bridges) -> Mapping[str, Any]:
    number = int(order["bridge"])
    if not 0 <= number < len(bridges):
        raise ReworkError(f"There is no bridge {number + 1}: choose one of the list.")
    return bridges[number]


def _accept(work: Workpiece, order: Mapping[str, Any], bridges: Bridges) -> DrawnChange:
    """A bridge that a person accepts stays conjecture, but no longer only a proposal."""
    bridge = _bridge(order, bridges)
    line = np.asarray(bridge["centre_mm"], np.float64)
    reach = float(np.max(bridge["width_mm"])) + 0.3
    before: dict[int, ClosedPath] = {}
    after: dict[int, ClosedPath] = {}
    for number, path in work.paths.items():
        if "bridge" not in path.sources:
            continue
        middle = path.curves.mean(axis=1)
        apart = np.linalg.norm(middle[:, None] - line[None], axis=2).min(axis=1)
        hit = [k for k in range(path.nodes) if path.sources[k] == "bridge" and apart[k] < reach]
        if hit:
            change = vouch(work, number, hit, Evidence(Grade.CONJECTURED, ACCEPTED))
            before.update(change.before)
            after.update(change.after)
    if not before:
        raise ReworkError("That bridge is accepted already, or not drawn any more.")
    return DrawnChange(before, after)


def _side(value: Any) -> Side:
    if value == "in":
        return "in"
    if value == "out":
        return "out"
    raise ValueError("side is 'in' or 'out'")


_ORDERS: dict[str, Callable[[Workpiece, Mapping[str, Any], Bridges], DrawnChange]] = {
    "move-node": lambda w, o, _: move_node(
        w, int(o["path"]), int(o["node"]), _place(o["to"]), _evidence(o)
    ),
    "move-handle": lambda w, o, _: move_handle(
        w, int(o["path"]), int(o["node"]), _side(o["side"]), _place(o["to"]), _evidence(o)
    ),
    "pull": lambda w, o, _: pull_curve(
        w, int(o["path"]), int(o["curve"]), float(o["t"]), _place(o["to"]), _evidence(o)
    ),
    "put-node": lambda w, o, _: put_node(w, int(o["path"]), int(o["curve"]), float(o["t"])),
    "take-node": lambda w, o, _: take_node(w, int(o["path"]), int(o["node"]), _evidence(o)),
    "take-path": lambda w, o, _: take_path(w, int(o["path"])),
    "take-paths": lambda w, o, _: take_paths(w, [int(n) for n in o["paths"]]),
    "stroke": lambda w, o, _: lay_stroke(
        w,
        _places(o["places"]),
        [float(v) for v in o["widths"]],
        _evidence(o),
        str(o.get("layer") or "gold"),
    ),
    "rub-out": lambda w, o, _: rub_out(
        w, _places(o["places"]), float(o["width"]), _evidence(o), o.get("layer")
    ),
    "from-like": lambda w, o, _: fill_from_like(
        w, _places(o["around"]), likeness_of(o["like"]), _replaces(o.get("replaces"))
    ),
    "vouch": lambda w, o, _: vouch(w, int(o["path"]), [int(c) for c in o["curves"]], _evidence(o)),
    "accept-bridge": _accept,
    "refuse-bridge": lambda w, o, b: refuse_bridge(
        w, _bridge(o, b)["centre_mm"], _bridge(o, b)["width_mm"], str(o.get("layer") or "gold")
    ),
}
