import pytest

from eaten_plates import inked
from ironlace.marks.errors import MarksError
from ironlace.marks.reading.known_shapes import shapes_from_pictures
from ironlace.marks.reading.shapes_named import refuse_wrong_names
from struck_plates import face

FIGURES = "0123456789"
ITALIC, SCRIPT, OPEN = (
    {g: inked(name, g) for g in FIGURES} for name in ("italic", "script", "open")
)


@pytest.mark.parametrize("pictures", [face("old style"), face("heavy"), ITALIC, SCRIPT, OPEN])
def test_names_that_are_right_are_let_through(pictures):
    refuse_wrong_names(shapes_from_pictures(pictures))
    refuse_wrong_names(shapes_from_pictures({g: pictures[g] for g in "1469"}))


@pytest.mark.parametrize("pictures", [face("serif"), ITALIC])
@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda p: {**p, "6": p["9"], "9": p["6"]}, "6 like a 9, 9 like a 6"),
        (lambda p: {g: p[FIGURES[k - 9]] for k, g in enumerate(FIGURES)}, "0 like a 1"),
        (lambda p: {g: ink[:, ::-1] for g, ink in p.items()}, "look mirrored"),
        (lambda p: {g: ink[::-1, ::-1] for g, ink in p.items()}, "look upside down"),
        (lambda p: {**p, "3": p["8"]}, "of 3 and 8 are the same"),
    ],
)
def test_wrong_names_are_refused(pictures, wrong, says):
    with pytest.raises(MarksError, match=says):
        refuse_wrong_names(shapes_from_pictures(wrong(pictures)))


def test_one_wrong_name_among_few_is_told_where_it_is_plain():
    p = face("serif")
    with pytest.raises(MarksError, match="6 like a 8"):
        refuse_wrong_names(
            shapes_from_pictures({"1": p["1"], "4": p["4"], "6": p["8"], "9": p["9"]})
        )
