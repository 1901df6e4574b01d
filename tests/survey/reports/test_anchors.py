import pytest

from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.anchors import anchors_of, read_anchors
from ironlace.survey.reports.table import read_reports


def test_anchor_tables_set_rows_aside():
    table = read_anchors("serial,kind,date,source\n1,at,1890,x\n2,perhaps,1890\n3,at,soon\n")
    assert [a.source for a in table.anchors] == ["x"]
    assert [row.line for row in table.set_aside] == [3, 4]
    with pytest.raises(ReportsError, match="'kind'"):
        read_anchors("serial,date\n1,1890\n")


def test_dated_evidence_of_reports_gives_anchors():
    reports = read_reports("id,mark,dated,dated_kind\nA,12,1896,sold\nB,13,,\n").reports
    assert [a.in_words() for a in anchors_of(reports)] == ["12 sold 1896"]


def test_dates_may_stand_as_people_write_them():
    table = read_anchors("serial,kind,date\n1,at,12 June 1886\n2,sold,April 1885\nNov-86,at,1886\n")
    assert [a.date.text for a in table.anchors] == ["1886-06-12", "1885-04"]
    assert "spreadsheet" in table.set_aside[0].reason


def test_a_dated_example_from_a_year_without_such_machines_is_set_aside():
    table = read_anchors("serial,kind,date\n217,at,2096\n218,not after,2001\n219,sold,1896\n")
    assert [str(a.mark) for a in table.anchors] == ["218", "219"]
    assert "outside 1830 to 1960" in table.set_aside[0].reason
