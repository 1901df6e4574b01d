"""Dates that are wrong together are named and do not count; those of the making do."""

from ironlace.survey import Reports, read_reports
from ironlace.survey.reports.dates_of_others import OfOther

HEAD = "id,mark,sighted,dated,dated_kind,evidence\n"


def counted(rows):
    """Reports of rows (mark, sighted, dated, kind, evidence)."""
    text = HEAD + "".join(f"r{i},{','.join(row)}\n" for i, row in enumerate(rows))
    return Reports.from_table(read_reports(text))


def dates(reports):
    return [r.dated.date.text if r.dated else "" for r in reports.counted]


def test_one_day_on_numbers_far_apart_is_a_patents():
    day = ("", "1872-10-18", "at", "on the plate")
    reports = counted([(n, *day) for n in ("512", "3120", "9002")])
    assert dates(reports) == ["", "", ""]
    assert OfOther.ONE_DAY in reports.of_others_in_words()[0]


def test_one_day_on_neighbours_is_one_delivery():
    day = ("", "1872-10-18", "sold", "ledger")
    assert all(dates(counted([(n, *day) for n in ("3020", "3041", "3107")])))


def test_one_year_among_others_is_a_patents():
    rows = [(n, "", "1871", "at", "plate") for n in ("200", "4000", "9000")]
    rows += [("1500", "", "1876", "at", "slip"), ("6000", "", "1884", "at", "slip")]
    assert dates(counted(rows)) == ["", "", "", "1876", "1884"]
    # numbers that begin again each year have several such years: nothing is left out
    rows += [("8000", "", "1876", "at", "slip"), ("3000", "", "1876", "at", "slip")]
    assert all(dates(counted(rows)))


def test_one_year_on_all_is_not_taken_for_their_making():
    numbers = ("512", "1200", "3120", "9002", "11870")
    reports = counted([(n, "", "1872", "at", "on the bed") for n in numbers])
    assert not any(dates(reports))
    assert OfOther.ON_ALL in reports.of_others_in_words()[0]
    # what a paper of one of them says is theirs, as neighbours' one year is, and that of few
    told = [(n, "", "1872", "at", "receipt" if n == "512" else "") for n in numbers]
    assert all(dates(counted(told)))
    assert all(dates(counted([(str(int(n) // 30), "", "1872", "at", "") for n in numbers])))
    assert all(dates(counted([(n, "", "1872", "at", "") for n in numbers[:4]])))


def test_what_the_evidence_says_against_a_date():
    rows = [
        ("200", "", "1871", "at", "patent date"),
        ("700", "", "1876", "at", "dating list"),
        ("900", "1875", "1877", "at", "slip"),
        ("950", "2019", "1878", "sold", "receipt"),
    ]
    reports = counted(rows)
    assert dates(reports) == ["", "", "", "1878"]
    assert len(reports.of_others_in_words()) == 3
