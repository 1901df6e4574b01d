import numpy as np
import pytest
from openpyxl import Workbook

from ironlace.evidence.errors import IronlaceError
from ironlace.survey.reports.table import read_reports
from ironlace.survey.sharing.open_data import About
from ironlace.survey.sharing.survey_zip import zipped
from ironlace.workshop.survey.tables_in import table_text


@pytest.mark.parametrize("kind", ["spreadsheet", "survey"])
def test_a_spoilt_zip_is_refused_whatever_its_reader_stumbles_with(tmp_path, kind):
    if kind == "survey":
        reports = read_reports("id,mark\nA,4.96.217\nB,6.95.12\n").reports
        sound = zipped(reports, About("Invented", "A Club", "2026-01-05"))
    else:
        book = Workbook()
        book.active.append(["id", "mark"])
        book.active.append(["A", "4.96.217"])
        book.save(tmp_path / "sound.xlsx")
        sound = (tmp_path / "sound.xlsx").read_bytes()
    rng = np.random.default_rng(3)
    refused = 0
    for _ in range(300):
        spoilt = bytearray(sound)
        at = int(rng.integers(4, len(spoilt)))
        if rng.random() < 0.5:
            spoilt[at : at + int(rng.integers(1, 40))] = rng.bytes(int(rng.integers(0, 40)))
        else:
            del spoilt[at:]
        (tmp_path / "a.zip").write_bytes(bytes(spoilt))
        try:
            table_text(tmp_path / "a.zip")
        except IronlaceError:
            refused += 1
    assert refused > 100
