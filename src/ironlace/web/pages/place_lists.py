"""What the pages of a list touched on a photograph share: the rows as they were sent."""

from collections.abc import Sequence

from ironlace.web.incoming import Form

ONLY_SHOWN = ("show", "another")
"""What is asked of such a page without working anything out: another photograph, another row."""


def places_sent(form: Form, columns: Sequence[str]) -> tuple[list[dict[str, str]], str]:
    """The rows of a list, and the photograph that they lie on.

    Where another photograph is to be shown the rows keep their words and lose their places; where
    another row is wanted it stands there, empty.
    """
    do, rows, photograph = form.one("do"), form.rows(columns), form.one("photograph").strip()
    if do == "show" and form.one("chosen") != photograph:
        photograph = form.one("chosen")
        rows = [{**row, "x_px": "", "y_px": ""} for row in rows]
    if do == "another":
        rows.append({})
    return rows, photograph
