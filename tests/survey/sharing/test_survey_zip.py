import io
import zipfile

import pytest

from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.table import read_reports
from ironlace.survey.sharing.open_data import About
from ironlace.survey.sharing.survey_zip import TABLE, is_survey_zip, unzipped, zipped

REPORTS = read_reports("id,mark,place\nA,4.96.217,north\nB,11.95.30,\n").reports
ABOUT = About("Invented", "A club", "2026-01-05", note="Read by lamp.")


def test_the_same_survey_is_the_same_file_and_reads_back():
    data = zipped(REPORTS, ABOUT)
    assert zipped(REPORTS, ABOUT) == data
    assert is_survey_zip(data)
    text, about, count = unzipped(data)
    assert read_reports(text).reports == REPORTS
    assert (about.title, about.note, count) == ("Invented", "Read by lamp.", 2)


def test_the_read_me_says_how_to_cite():
    with zipfile.ZipFile(io.BytesIO(zipped(REPORTS, ABOUT))) as packed:
        read_me = packed.read("README.txt").decode()
    assert ABOUT.citation(2) in read_me


def other_zip(**files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, text in files.items():
            packed.writestr(name.replace("__", "."), text)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (other_zip(notes__txt="x"), "holds no table"),
        (b"PK\x03\x04 broken", "cannot be opened"),
        (other_zip(**{TABLE: b"\xff\xfe", f"{TABLE}-metadata.json": "{}"}), "cannot be read"),
    ],
)
def test_what_is_no_survey_is_refused(data, says):
    with pytest.raises(ReportsError, match=says):
        unzipped(data)
