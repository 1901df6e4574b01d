"""The same reports as a table and as a record: the same answers, to the last figure."""

import json

import pytest

from ironlace.cli.program import main
from ironlace.record import parse_entry
from ironlace.survey import ANALYSES
from ironlace.workshop.analyses import asked_for, work_out
from ironlace.workshop.survey.reports_of_record import OWN, read_report_entries

NINE = (
    "A,4.96.217,2019,,,",
    "B,11.95.30,2020,,,",
    "C,7.93.412,2021,,1893-09,sold",
    "D,2.97.118,2019,,,",
    "E,12.94.77,2021,,,",
    "F,4.96.271,2020,,,",
    "G,11.95.30,2021,,1896,not after",
    "H,5.94.100,2020,,,",
    "I,?.95.12,2019,H,,",
)
HEAD = "id,mark,sighted,machine,dated,dated_kind"


@pytest.fixture(scope="module")
def told_by_commands(tmp_path_factory):
    """What each command says of the nine reports and the machine in hand, as JSON."""
    folder = tmp_path_factory.mktemp("commands")
    table = folder / "reports.csv"
    rows = (f"{OWN},6.93.88,,,,", *NINE)
    table.write_text("\n".join((HEAD, *rows)) + "\n", encoding="utf-8")
    said = {}
    for analysis in ANALYSES:
        file = folder / f"{analysis.key}.json"
        words = ["survey", analysis.key, str(table), "--json", str(file)]
        if analysis.key == "date":
            words += ["--of", "6.93.88"]
        with pytest.raises(SystemExit) as ended:
            main(words)
        assert ended.value.code in (0, None)
        said[analysis.key] = json.loads(file.read_text(encoding="utf-8"))
    return said


@pytest.mark.parametrize("analysis", ANALYSES, ids=lambda one: one.key)
def test_table_and_record_give_the_same_answer(analysis, told_by_commands, workshop, slug):
    mark = {"kind": "mark", "reads": "6.93.88", "where": "bed", "grade": "seen"}
    workshop.records.add(slug, parse_entry(mark | {"purpose": "serial number"}))
    workshop.records.add_all(slug, read_report_entries("\n".join((HEAD, *NINE)))[0])
    record = workshop.records.read(slug)
    worked = work_out(workshop, record, analysis, asked_for(analysis, record, {}))
    assert json.loads(json.dumps(worked.answer.as_dict())) == told_by_commands[analysis.key]


def test_it_is_said_which_reports_were_joined(told_by_commands):
    joined = "2 reports counted as second sightings of machines already reported: G of B (same "
    for said in told_by_commands.values():
        assert any(one.startswith(joined) for one in said["sentences"])
    assert told_by_commands["date"]["anchors"] == [
        {"serial": "11·95·30", "kind": "not after", "date": "1896", "source": "B"},
        {"serial": "7·93·412", "kind": "sold", "date": "1893-09", "source": "C"},
    ]
