import pytest

from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.progress import Steps
from ironlace.running.errors import RunningError
from ironlace.running.needles.thread_use import THREAD_USE


def told(**given):
    asked = asked_from(THREAD_USE.asked, given)
    return THREAD_USE.answer(THREAD_USE.work(Nothing(), asked, Steps()))


def test_balance_moves_thread_from_one_to_the_other_and_not_the_sum():
    even = told(stitch="2.5 mm", thickness="0.8 mm").figures
    deep = told(stitch="2.5 mm", thickness="0.8 mm", balance="0.7").figures
    assert even["both_m_per_m"] == pytest.approx(deep["both_m_per_m"])
    assert deep["needle_m_per_m"] > even["needle_m_per_m"]


def test_an_interval_needs_both_errors():
    assert told(stitch="2.5 ± 0.1 mm", thickness="0.8 mm").results[0].interval is None
    both = told(stitch="2.5 ± 0.1 mm", thickness="0.8 ± 0.05 mm").results[2]
    assert both.interval.low < 2.64 < both.interval.high


def test_a_full_bobbin_holds_what_its_sizes_say():
    seam = {"stitch": "2.5 mm", "thickness": "0.8 mm"}
    sizes = {"core": "3 mm", "full": "7 mm", "between": "28 mm", "thread": "0.2 mm"}
    wound = told(**seam, **sizes)
    assert wound.figures["wound_m"] == pytest.approx(21.991, abs=0.001)  # by hand: 879.65 mm3
    assert wound.results[-1].value == pytest.approx(21.991 / 1.32, abs=0.01)
    assert "wound_m" not in told(**seam).figures
    with pytest.raises(RunningError, match="Of the bobbin core is missing"):
        told(**seam, **{**sizes, "core": ""})
    with pytest.raises(RunningError, match="no thinner than the full bobbin"):
        told(**seam, **{**sizes, "full": "2 mm"})


def test_a_table_tells_other_stitches_and_cloths():
    (table,) = told(stitch="2.5 mm", thickness="0.8 mm").tables
    assert table.rows[2] == ("2.5", "2.32", "2.64", "3.28")


@pytest.mark.parametrize(
    ("stitch", "thickness", "says"),
    [
        ("10", "0.8", "stitches to the inch"),
        ("0.9", "2.5", "typed for the other"),
        ("0.6", "0.3", "hardly moves"),
    ],
)
def test_what_is_no_stitch_is_doubted_first(stitch, thickness, says):
    said = told(stitch=f"{stitch} ± 0.05", thickness=f"{thickness} ± 0.05")
    assert says in said.sentences[0]
    assert all(one.interval is None for one in said.results)


SEAM = {"stitch": "2.5 ± 0.05 mm", "thickness": "0.8 ± 0.03 mm"}


@pytest.mark.parametrize(
    ("check", "doubted"),
    [
        ({"counted": "40"}, ""),
        ({"counted": "41"}, ""),
        ({"counted": "33"}, "33 stitches along 100 mm are of 3.03 mm"),
        ({"folded": "1.66 mm"}, ""),
        ({"folded": "2.2 mm"}, "Folded once the cloth has 2.2 mm"),
    ],
)
def test_a_second_reading_shows_what_was_misread(check, doubted):
    answer = told(**SEAM, **check)
    assert answer.sentences[0].startswith(doubted or "A metre of seam")
    assert (answer.results[0].interval is None) == bool(doubted)


def test_what_nothing_checked_is_said():
    assert "Nothing checks the stitch length" in " ".join(told(**SEAM).sentences)
    both = told(**SEAM, counted="40", folded="1.6 mm")
    assert "Nothing checks" not in " ".join(both.sentences)
