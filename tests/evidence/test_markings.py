import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.markings import Glyph, GlyphKind, Marking, MarkingError, parse_marking

CHARACTERS = "0123456789ABCXYZ·°★✚◆-/&"
options = st.lists(st.sampled_from(CHARACTERS), min_size=0, max_size=3, unique=True).map(tuple)
glyphs = st.builds(Glyph, options, st.booleans())
markings = st.lists(glyphs, min_size=1, max_size=20).map(lambda found: Marking(tuple(found)))


@given(markings)
def test_a_reading_written_and_read_again_is_the_same(marking):
    assert parse_marking(str(marking)) == marking


def test_dots_are_part_of_the_reading():
    with_dots, without = parse_marking("4·96·217"), parse_marking("496217")
    assert with_dots != without
    assert with_dots.plain == without.plain
    assert [len(group) for group in with_dots.groups] == [1, 2, 3]


def test_a_full_stop_is_a_dot_and_a_small_letter_a_capital():
    assert str(parse_marking("b.9")) == "B·9"


def test_doubts_are_kept_apart():
    marking = parse_marking("(7)[38]?{ring}")
    assert [g.certain for g in marking.glyphs] == [None, None, None, "°"]
    assert [g.kind for g in marking.glyphs] == [
        GlyphKind.FIGURE,
        GlyphKind.FIGURE,
        GlyphKind.UNREAD,
        GlyphKind.PUNCH,
    ]
    assert marking.has_doubts


def test_spaces_at_the_ends_are_nothing_and_runs_of_them_one_gap():
    assert str(parse_marking("  12   34 ")) == "12 34"


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("", "empty"),
        ("(12)", "more than one glyph"),
        ("(1", "never closes"),
        ("[]", "empty square brackets"),
        ("{moon}", "not a punch"),
        ("12#4", "'#'"),
        ("1" * 65, "at most 64"),
    ],
)
def test_a_wrong_reading_is_refused_in_one_sentence(written, says):
    with pytest.raises(MarkingError, match=r".*") as refusal:
        parse_marking(written)
    assert says in str(refusal.value)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        marking = parse_marking(text)
    except MarkingError:
        return
    assert parse_marking(str(marking)) == marking


def test_spoken_for_a_screen_reader():
    assert parse_marking("B°9(·)[38] ?").spoken() == (
        "B, ring, 9, dot (doubtful), 3 or 8, gap, unread"
    )
