"""Drawings read and looked at for stencils, kept in `derived/`.

Finding what falls out of a drawing takes longer than planning its sheets, and does not change while
bridges are moved. It is kept under a checksum of the drawing, the process and the version.
"""

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace import __version__
from ironlace.evidence.findings import checksum_of
from ironlace.ornament.stencils import Falling, Hold, Prepared, read_process
from ironlace.ornament.stencils.planning.drawn_again import Difference
from ironlace.ornament.stencils.planning.layer_plan import PreparedLayer, prepare
from ironlace.ornament.stencils.webs import Tongue, Web
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.originals import write_whole
from ironlace.workshop.work.stages import SPOILT

_FORM = 5
"""Raised when what is kept is laid out differently."""


def prepared_drawing(
    workshop: Workshop, svg: str, process_text: str, hold: Hold, trap_mm: float | None
) -> Prepared:
    """What `ironlace.ornament.stencils.prepare` makes of a drawing: as it was kept, else made."""
    key = checksum_of([svg, process_text, hold, trap_mm, __version__, _FORM])
    place = workshop.derived / "prepared" / key[:2] / f"{key}.npz"
    found = _kept(place)
    if found is not None:
        return found
    made = prepare(svg, read_process(process_text), hold, trap_mm=trap_mm)
    write_whole(place, packed(made))
    return made


def _kept(place: Path) -> Prepared | None:
    try:
        return unpacked(place.read_bytes())
    except (*SPOILT, shapely.errors.GEOSException):
        # what is derived can be thrown away or spoilt: it is made again
        return None


def packed(prepared: Prepared) -> bytes:
    """A prepared drawing as bytes; `unpacked` reads it back without the loss of a digit."""
    arrays: dict[str, Any] = {
        "notices": np.array(prepared.notices, dtype=np.str_),
        "names": np.array([layer.name for layer in prepared.layers], dtype=np.str_),
        "otherwise_mm2": np.array([prepared.difference.missing_mm2, prepared.difference.added_mm2]),
        "otherwise_where": np.array(prepared.difference.where_mm or (), dtype=np.float64),
    }
    for n, layer in enumerate(prepared.layers):
        falling = layer.falling
        arrays |= {
            f"{n}.drawn": _wkb([layer.drawn]),
            f"{n}.start": _wkb([layer.start]),
            f"{n}.drawn_in": _wkb([layer.drawn_in]),
            f"{n}.painted_back": _wkb(layer.painted_back),
            f"{n}.islands": _wkb(falling.islands),
            f"{n}.narrow": _wkb(falling.narrow),
            f"{n}.euler": np.array(falling.euler),
            f"{n}.tongues": _wkb([t.shape for t in falling.tongues]),
            f"{n}.tongue_sizes": np.array(
                [(t.length_mm, t.width_mm) for t in falling.tongues]
            ).reshape(-1, 2),
            f"{n}.webs": _wkb([w.shape for w in falling.webs]),
            f"{n}.web_sizes": np.array([(w.width_mm, w.length_mm) for w in falling.webs]).reshape(
                -1, 2
            ),
            f"{n}.rungs": np.concatenate([np.zeros((0, 2, 2)), *(w.rungs for w in falling.webs)]),
            f"{n}.sides": np.concatenate(
                [np.zeros((0, 2), np.int64), *(w.sides for w in falling.webs)]
            ),
            f"{n}.rung_counts": np.array([len(w.rungs) for w in falling.webs], np.int64),
            f"{n}.between_tips": np.array([w.between_tips for w in falling.webs], np.bool_),
        }
    out = BytesIO()
    np.savez(out, allow_pickle=False, **arrays)
    return out.getvalue()


def unpacked(content: bytes) -> Prepared:
    """Read back what `packed` gave.

    Raises one of `SPOILT` when it is not that.
    """
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        layers = tuple(_layer(kept, n, str(name)) for n, name in enumerate(kept["names"]))
        where = kept["otherwise_where"].tolist()
        missing, added = kept["otherwise_mm2"].tolist()
        difference = Difference(missing, added, (where[0], where[1]) if where else None)
        return Prepared(tuple(str(word) for word in kept["notices"]), layers, difference)


def _layer(kept: Any, n: int, name: str) -> PreparedLayer:
    ends = np.cumsum(kept[f"{n}.rung_counts"])[:-1]
    webs = tuple(
        Web(shape, float(width), float(length), rungs, sides, bool(tips))
        for shape, (width, length), rungs, sides, tips in zip(
            _polygons(kept[f"{n}.webs"]),
            kept[f"{n}.web_sizes"],
            np.split(kept[f"{n}.rungs"], ends),
            np.split(kept[f"{n}.sides"], ends),
            kept[f"{n}.between_tips"],
            strict=False,  # of nothing, split makes one part
        )
    )
    tongues = tuple(
        Tongue(shape, float(length), float(width))
        for shape, (length, width) in zip(
            _polygons(kept[f"{n}.tongues"]), kept[f"{n}.tongue_sizes"], strict=True
        )
    )
    falling = Falling(
        _polygons(kept[f"{n}.islands"]),
        webs,
        tongues,
        _polygons(kept[f"{n}.narrow"]),
        int(kept[f"{n}.euler"]),
    )
    return PreparedLayer(
        name,
        _region(kept[f"{n}.drawn"]),
        falling,
        _region(kept[f"{n}.start"]),
        _polygons(kept[f"{n}.painted_back"]),
        _region(kept[f"{n}.drawn_in"]),
    )


def _wkb(shapes: Sequence[shapely.Geometry]) -> NDArray[np.uint8]:
    return np.frombuffer(shapely.to_wkb(shapely.GeometryCollection(list(shapes))), np.uint8)


def _shapes(content: NDArray[np.uint8]) -> list[Any]:
    return list(shapely.get_parts(shapely.from_wkb(content.tobytes())))


def _polygons(content: NDArray[np.uint8]) -> tuple[Polygon, ...]:
    return tuple(_shapes(content))


def _region(content: NDArray[np.uint8]) -> MultiPolygon:
    region = _shapes(content)[0]
    return region if isinstance(region, MultiPolygon) else MultiPolygon([region])
