"""From where and from whom reports come: what is told counts, what is unsaid does not."""

import pytest

from ironlace.survey.reports.table import read_reports, write_reports
from ironlace.survey.reports.where_from import WhereFrom


def reports(rows):
    """Reports of (number, place, reporter)."""
    lines = [f'r{i},{n},"{place}",{by}' for i, (n, place, by) in enumerate(rows)]
    return read_reports("\n".join(["id,mark,place,reporter", *lines])).reports


def of(rows):
    return WhereFrom.of(reports(rows))


def test_a_place_is_of_nearly_all_that_name_one():
    rows = [(i + 40, "Northland", "") for i in range(9)]
    assert of([*rows, (99, "Southmark", "")]).nearly_all
    assert of([*rows, (99, "Southmark", "")]).land == "Northland"
    assert not of([*rows[7:], (99, "Southmark", "")]).most
    assert not of(rows[:4]).most


@pytest.mark.parametrize("place", ["", "Northland"])
def test_what_few_say_is_no_evidence(place):
    rows = [(i + 40, place if i < 5 else "", "") for i in range(11)]
    found = of(rows)
    assert not found.most
    assert not found.spread
    assert found.sentence() == found.eased() == ""


def test_towns_of_one_land_are_one_place_however_they_are_written():
    rows = [(i, place, "") for i, place in enumerate(("Redham, Northland", "northland ") * 4, 50)]
    assert of(rows).nearly_all
    assert "8 reports that say where are from Northland" in of(rows).sentence()


def test_who_reported_is_read_under_either_heading_and_written_where_told():
    table = read_reports("id,mark,reported by\na,12,A. Quill\nb,13,\n")
    assert [r.reporter for r in table.reports] == ["A. Quill", ""]
    again = read_reports(write_reports(table.reports)).reports
    assert [r.reporter for r in again] == ["A. Quill", ""]
    assert "reporter" not in write_reports(read_reports("id,mark\na,12\n").reports)
