"""What the fonts show, and what stands instead of what they do not."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.dossier.errors import DossierError
from ironlace.dossier.print.typesetting import paper_size, showable, typeset, unshowable


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("B°93·217", "B°93·217"),
        ("\u6f22", "⟨U+6F22⟩"),
        ("\U0001f642!", "⟨U+1F642⟩!"),
        ("a\u202eb", "ab"),
        ("a\u0007b", "a b"),
        ("e\u0301", "é"),
        ("line\nline", "line\nline"),
    ],
)
def test_showable(text: str, shown: str) -> None:
    assert showable(text) == shown


def test_unshowable_counts_each_sign_once() -> None:
    assert unshowable("\u6f22\u6f22 ok") == {"\u6f22"}


def test_a_word_without_end_can_break() -> None:
    assert showable("x" * 60).replace("\u200b", "") == "x" * 60
    assert max(len(part) for part in showable("x" * 60).split("\u200b")) <= 24


def test_unknown_paper_is_refused() -> None:
    with pytest.raises(DossierError, match="a4 or letter"):
        paper_size("foolscap")  # type: ignore[arg-type]


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=80))
def test_property_any_text_at_all_can_be_set(text: str) -> None:
    data = {
        "paper": "A4", "page": [210, 297], "margin": 10, "head": 15, "foot": 29, "bar": 100,
        "shortest": "99.5", "longest": "100.5", "tolerance": "0.5 %", "title": "T" + text,
        "made": text, "note": text, "long_note": "", "window": [190, 238], "columns": 1,
        "rows": 1, "overlap": 10, "drawn_longest": text, "along": text,
        "seams_x": [], "seams_y": [],
        "register": [],
        "ink": {"left": 0, "top": 0, "width": 10, "height": 10, "size": text},
        "drawing": {"width": 10, "height": 10, "size": text, "grades": []},
        "parts": [{"name": text, "x": 0, "y": 0, "width": 10, "height": 10, "left": "",
                   "right": "", "above": "", "below": "", "marks": []}],
    }  # fmt: skip
    svg = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10"/>'
    )
    assert typeset("true_scale.typ", data, files_beside={"drawing.svg": svg}).startswith(b"%PDF")
