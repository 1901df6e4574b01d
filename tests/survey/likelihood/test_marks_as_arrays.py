import numpy as np
import pytest

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out, lay_out_reports
from ironlace.survey.reports.table import DatedEvidence, DatedKind

MARKS = [parse_marking(text) for text in ("4.96.217", "12", "11.95.301", "1?", "5.95.9")]


def test_marks_of_one_length_lie_in_one_block():
    read = lay_out(MARKS, Assumptions())
    lengths = {block.glyphs.shape[1]: sorted(block.rows.tolist()) for block in read.blocks}
    assert lengths == {2: [1, 3], 4: [4], 6: [0], 7: [2]}
    assert all(block.gaps.shape[1] == block.glyphs.shape[1] + 1 for block in read.blocks)


def test_a_doubtful_glyph_is_no_figure_and_junk_is_a_chance():
    read = lay_out(MARKS, Assumptions())
    assert -1 in read.figure
    assert np.all((read.junk > 0) & (read.junk < 1))
    assert read.junk[1] > read.junk[0]  # shorter marks are more easily thrown


def test_a_sample_is_spread_evenly():
    read = lay_out(MARKS, Assumptions())
    some = read.evenly(3)
    assert some.count == 3
    assert some.junk == pytest.approx(read.junk[[0, 2, 4]])
    assert sorted(row for block in some.blocks for row in block.rows.tolist()) == [0, 1, 2]


def test_a_date_says_of_each_month_how_much_likelier_it_is_than_at_random():
    dated = DatedEvidence(EdtfDate.parse("1893-07"), DatedKind.AT)
    read = lay_out_reports([Report("A", MARKS[0], dated=dated)], Assumptions())
    told = read.dated[0]
    assert told.mean() == pytest.approx(1.0)
    assert np.unravel_index(told.argmax(), told.shape) == (1893 - 1850, 6)
