from ironlace.record import Measurement, Question


def test_signs_that_no_pen_can_write_are_left_out_of_whatever_is_typed():
    typed = Question(asks="Is\x00 it \u202e712\x1b[31m?", note="one\nline\x07\tand \ud800 more")
    assert typed.asks == "Is  it  712 [31m?"
    assert typed.note == "one\nline \tand   more"


def test_nor_are_they_kept_in_what_vouches_for_it():
    sources = [{"kind": "person", "says": "the last\x00 owner"}]
    measured = Measurement(what="stroke\x85", reads="31.6 mm", grade="measured", sources=sources)
    assert measured.sources[0].says == "the last  owner"
    assert measured.what == "stroke"
