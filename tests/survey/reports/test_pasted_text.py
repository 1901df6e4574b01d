from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.markings import parse_marking
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


OWN = parse_marking("G·94 627")
OWNERS = """Ann: mine is G.86 214, receipt 14 May 1889 in the drawer.
Bert: G·91 38 here. Paid 12 500 for it in 1998.
Carl: bed reads K°90 1204; bought 1891 new. Seen 11/12/1887 or so with G.88 77.
Dora: serial G.95.411 and a plate 305 mm long"""


def test_the_gap_of_the_machines_own_mark_cuts_no_number_in_two():
    cut = [f.text for f in find_serials(OWNERS)]
    assert "G.86" in cut and "214" in cut
    found = {f.text: f for f in find_serials(OWNERS, OWN)}
    whole = ("G.86 214", "G·91 38", "K°90 1204", "G.88 77")
    assert set(whole) <= set(found)
    assert not {"214", "38", "1204", "G.86"} & set(found)
    assert [t for t, f in found.items() if f.fits and not f.doubts] == [*whole, "G.95.411"]
    assert not found["305"].fits
    assert str(found["G.86 214"].mark) == "G·86 214"


def test_a_date_said_in_the_sentence_is_proposed_with_what_it_may_say():
    found = {f.text: f.dated for f in find_serials(OWNERS, OWN)}
    told = found["G.86 214"]
    assert (told.date.text, told.kind, told.what) == ("1889-05-14", "sold", "receipt")
    assert (found["K°90 1204"].date.text, found["K°90 1204"].what) == ("1891", "bought")
    assert found["G·91 38"] is None  # 1998 stands in the next sentence, and is none of its making
    assert found["G.88 77"] is None  # it could be two days
    near = {f.text: f for f in find_serials("I bought G.90 12 in 1891 from him", OWN)}
    assert (near["G.90 12"].dated.date.text, near["G.90 12"].dated.kind) == ("1891", "sold")
    assert "stands in a date" in near["1891"].doubts


@given(st.text(alphabet="G.94 627\nMay18", max_size=80))
def test_a_shape_finds_pieces_in_order_that_do_not_overlap(text):
    found = find_serials(text, OWN)
    assert all(one.end <= two.start for one, two in pairwise(found))
