import io
import zipfile
from datetime import date, datetime, time, timedelta

import pytest
from openpyxl import Workbook

from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.spreadsheet import rows_from_xlsx
from ironlace.survey.reports.table import reports_from_rows


def workbook(rows, title="Sheet"):
    book = Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_sheet_becomes_reports_with_its_line_numbers():
    data = workbook(
        [
            ["Report", "Serial number", "sighted"],
            ["A", "4.96.217", date(2021, 5, 3)],
            [],
            ["B", 48213, None],
            ["C", None, None],
        ]
    )
    table = reports_from_rows(*rows_from_xlsx(data))
    assert [str(r.mark) for r in table.reports] == ["4·96·217", "48213"]
    assert table.reports[0].sighted.text == "2021-05-03"
    assert [row.line for row in table.set_aside] == [5]


@pytest.mark.parametrize(
    ("data", "sheet", "says"),
    [
        (b"id,mark\nA,4\n", None, "not an XLSX"),
        (workbook([["id"]]), "Other", "no sheet 'Other'"),
        (workbook([]), None, "empty"),
    ],
)
def test_what_is_no_spreadsheet_is_refused(data, sheet, says):
    with pytest.raises(ReportsError, match=says):
        rows_from_xlsx(data, sheet=sheet)


def test_a_small_file_that_unpacks_to_a_large_one_is_refused_unread():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b" " * 90_000_000)
    assert len(out.getvalue()) < 200_000
    with pytest.raises(ReportsError, match="unpacks to 90 MB"):
        rows_from_xlsx(out.getvalue())


def test_a_number_that_the_spreadsheet_made_a_date_of_does_not_count():
    made = [
        date(1996, 4, 1),
        datetime.fromisoformat("1996-04-01T02:17"),
        time(11, 30),
        timedelta(hours=30),
    ]
    data = workbook([["id", "mark"], *(["A", one] for one in made), ["B", "4.96.217"]])
    table = reports_from_rows(*rows_from_xlsx(data))
    assert [r.id for r in table.reports] == ["B"]
    assert {row.why for row in table.set_aside} == {"a date made by a spreadsheet"}
    assert len(table.set_aside) == len(made)


def test_noughts_that_a_spreadsheet_may_have_lost_are_asked_about():
    book = Workbook()
    for row in (["id", "mark", "weight"], ["A", 4.1, 12.5], ["B", 96.21, 3], ["C", "4.10", 7.25]):
        book.active.append(row)
    book.active["B3"].number_format = "0.000"
    out = io.BytesIO()
    book.save(out)
    table = reports_from_rows(*rows_from_xlsx(out.getvalue()))
    assert [str(r.mark) for r in table.reports] == ["4·1", "96·210", "4·10"]
    asked = [remark for remark in table.remarks if "as a number" in remark]
    assert len(asked) == 1 and asked[0].startswith("Line 2:") and "4.10 looks" in asked[0]


@pytest.mark.parametrize(
    ("value", "shape", "read"),
    [
        (217, "00000", "00217"),
        (49603217, r"00\.00\.0000", "49\u00b760\u00b73217"),
        (4960217, r"00\.00\.0000", "04\u00b796\u00b70217"),
        (1196217, '0"."00"."000', "11\u00b796\u00b7217"),
        (217, "000-000", "000-217"),
        (217.0, "00000", "00217"),
        (123456, "0000", "123456"),
        (217, "0", "217"),
        (217, "General", "217"),
        (217, "#,##0", "217"),
        (217, "0000.00", "217.00"),
    ],
)
def test_a_whole_number_is_read_with_the_noughts_and_signs_it_is_shown_with(value, shape, read):
    book = Workbook()
    for row in (["id", "mark"], ["A", value], ["B", "4.96.217"]):
        book.active.append(row)
    book.active["B2"].number_format = shape
    out = io.BytesIO()
    book.save(out)
    table = reports_from_rows(*rows_from_xlsx(out.getvalue()))
    assert str(table.reports[0].mark) == read.replace(".", "\u00b7")
    filled_up = [remark for remark in table.remarks if "only the format" in remark]
    assert len(filled_up) == (read not in ("217", "123456", "217.00"))


def test_a_format_that_shows_a_fraction_or_a_negative_number_is_left_alone():
    book = Workbook()
    for row in (["id", "mark"], ["A", -217], ["B", 21.7]):
        book.active.append(row)
    for cell in ("B2", "B3"):
        book.active[cell].number_format = "00000"
    out = io.BytesIO()
    book.save(out)
    _, rows = rows_from_xlsx(out.getvalue())
    assert [cells[1] for _, cells in rows] == ["-217", "21.7"]
