"""What the pages of a list touched on photographs share: rows as sent, and the picture shown."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ironlace.record import Photograph, Record
from ironlace.web.bench import Bench
from ironlace.web.incoming import Form

ONLY_SHOWN = ("show", "another")
"""What is asked of such a page without working anything out: another photograph, another row."""


def places_sent(form: Form, columns: Sequence[str]) -> tuple[list[dict[str, str]], str]:
    """The rows of a list, and the photograph that is to be shown.

    Where another photograph is to be shown the rows keep their words; they lose their places where
    all lie on one photograph, and keep them where each row names its own (a column `photograph`).
    Where another row is wanted it stands there, empty.
    """
    each_its_own = "photograph" in columns
    do, rows = form.one("do"), form.rows(columns)
    photograph = form.one("shown" if each_its_own else "photograph").strip()
    if do == "show" and form.one("chosen") != photograph:
        photograph = form.one("chosen")
        if not each_its_own:
            rows = [{**row, "x_px": "", "y_px": ""} for row in rows]
    if do == "another":
        rows.append({})
    return rows, photograph


def picture_shown(bench: Bench, record: Record, wanted: Iterable[str]) -> Mapping[str, Any]:
    """What a template shows a photograph by: the first wanted that there is, or else the first."""
    photographs = list(record.of(Photograph))
    known = dict(photographs)
    at = next((one for one in wanted if one in known), photographs[0][0] if photographs else "")
    return {
        "at": at,
        "photographs": photographs,
        "photograph": known.get(at),
        "original": bench.photographs.original(known[at].sha256) if at else None,
    }
