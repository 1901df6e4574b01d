import io
from datetime import date

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
