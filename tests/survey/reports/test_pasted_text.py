from hypothesis import given
from hypothesis import strategies as st

from ironlace.survey.reports.pasted_text import find_serials

THREAD = """Lovely machine! Mine is stamped 11.95.30 under the slide plate,
bought in 1998 for $250. My aunt's reads B 9?·412 (hard to see).
Call 0555 123 4567. The base is 305 mm long. Seen 12/05/2019. No. 48213 here."""


def test_candidates_come_with_their_context_and_doubts():
    found = {f.text: f for f in find_serials(THREAD)}
    assert found["11.95.30"].doubts == () and "stamped" in found["11.95.30"].before
    assert found["11.95.30"].line == 1
    assert str(found["B 9?·412"].mark) == "B 9?·412"
    assert "looks like a price" in found["250"].doubts
    assert "looks like a year" in found["1998"].doubts
    assert "looks like a measure" in found["305"].doubts
    assert "looks like a date" in found["12/05/2019"].doubts
    assert any("telephone" in d for d in found["0555"].doubts)
    assert found["48213"].doubts == ()


def test_the_likely_ones_score_highest():
    found = find_serials(THREAD)
    best = sorted(found, key=lambda f: -f.score)[:3]
    assert {f.text for f in best} == {"11.95.30", "B 9?·412", "48213"}


def test_places_point_into_the_text():
    for f in find_serials(THREAD):
        assert THREAD[f.start : f.end] == f.text


@given(st.text(max_size=200))
def test_any_text_is_survived(text):
    for f in find_serials(text):
        assert text[f.start : f.end] == f.text
        assert 0 <= f.score <= 1


def test_commas_and_question_marks_are_doubted():
    thousands, asked = find_serials("No. 12,345 it says. Or is it 4.96.217? Perhaps.")
    assert str(thousands.mark) == "12345"
    assert thousands.doubts == ("its commas are left out",)
    assert asked.doubts == ("the question mark may be the sentence's own",)
