import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.evidence.progress import Steps
from ironlace.survey import DATE, Reports, SurveyError, read_reports

TABLE = "id,mark\n" + "".join(
    f"R{i},{m}\n" for i, m in enumerate(["4.96.217", "11.95.30", "7.93.412", "2.97.118"])
)
ANCHORS = "serial,kind,date\n4.96.217,sold,1896-06\nx,at,?\n"


def test_a_mark_is_dated_with_and_without_dated_numbers(ask):
    assert ask(DATE, TABLE, of="4.96.217")[1]["edtf"] == "1896-04"
    found, told = ask(DATE, TABLE, of="4.96.217", anchors=ANCHORS)
    assert len(found.anchors) == 1
    assert told["set_aside"][0]["row"]["serial"] == "x"
    assert "Line 3 set aside" in " ".join(told["sentences"])
    assert "1 of 2 dated examples was set aside: line 3" in " ".join(told["sentences"][:3])


def test_dated_numbers_of_which_none_can_be_used_are_not_passed_over(ask):
    with pytest.raises(
        SurveyError, match=r"None of the 2 dated examples can be used\. Line 2: The"
    ):
        ask(DATE, TABLE, of="4.96.217", anchors="serial,kind,date\n1,made,1896\n2,made,1897\n")


def test_the_result_is_the_date_with_its_interval(ask):
    _, told = ask(DATE, TABLE, of="4.96.217")
    (result,) = told["results"]
    assert (result["value"], result["interval"]["low"]) == ("1896-04", "1896-04")


def test_without_a_mark_nothing_is_dated(ask):
    with pytest.raises(SurveyError, match="No mark is given to date"):
        ask(DATE, TABLE)


def test_the_date_of_another_mark_is_shown_and_not_kept():
    sightings = read_reports(TABLE).reports
    reports = Reports(sightings, own=parse_marking("4.96.217"))

    def results(of):
        return DATE.answer(DATE.work(reports, DATE.asked(of=of), Steps())).results

    assert results("") == results("4.96.217") != ()
    assert results("11.95.30") == ()


def test_numbers_that_run_on_are_drawn_against_dates(ask):
    table = "id,mark,dated\nA,1000,1870\nB,2000,1880\nC,3000,1890\n"
    known = "number overall | weight 50, thought of before"
    found, _ = ask(DATE, table, of="1500", schemes=known)
    (plot,) = DATE.answer(found).plots
    assert "<svg" in plot.svg


def test_of_a_mark_far_from_the_reports_the_likeliest_slip_is_told(ask):
    table = "id,mark\n" + "".join(f"R{i},{y % 12 + 1}.{y}.{9 * y % 41 + 1}\n" for i, y in YEARS)
    said = ask(DATE, table, of="2.18.45")[1]["sentences"][1]
    assert "two figures being changed round, would make it 2·81·45 (February 1881" in said
    assert not any("slip" in one for one in ask(DATE, table, of="3.84.12")[1]["sentences"])


YEARS = list(enumerate([80, 80, 81, 81, 82, 83, 83, 84, 85, 85]))


def test_marks_and_dates_that_contradict_each_other_bear_no_sure_date(ask):
    # four round numbers pass for years '00'; dated examples rise with the whole numbers
    table = "id,mark\nA,1500\nB,3000\nC,4500\nD,3900\n"
    dated = "serial,kind,date\n1000,at,1870\n2100,at,1873\n4000,at,1880\n5200,sold,1885\n"
    _, told = ask(DATE, table, of="3300", anchors=dated)
    assert told["grade"] == "conjectured"
    assert "marks and dates contradict each other" in told["sentences"][1]


def test_a_table_of_dated_examples_is_looked_through_too(ask):
    table = "serial,kind,date\n512,at,1872-10-18\n3120,at,1872-10-18\n9002,at,1872-10-18\n"
    told = ask(DATE, "id,mark\nA,512\nB,4000\n", of="4000", anchors=table)[1]
    assert "does not count" in told["sentences"][1]
    assert told["grade"] == "conjectured"


def dated_table(numbers, years):
    rows = [f"R{i},{n},{y}" for i, (n, y) in enumerate(zip(numbers, years, strict=True))]
    return "\n".join(["id,mark,dated", *rows]) + "\n"


def test_more_misfits_than_slips_explain_doubt_the_run_of_numbers(ask):
    """The numbers begin again after 9,999: four of eleven are of the round before."""
    later, before = [900, 1900, 3000, 4100, 5200, 6300, 7700], [2500, 4800, 7100, 9300]
    years = [*range(1890, 1897), 1872, 1875, 1879, 1883]
    _, told = ask(DATE, dated_table([*later, *before], years), of="4600")
    assert told["grade"] == "conjectured"
    assert "4 of 11 dates do not fit" in told["sentences"][1]
    assert "may have begun again" in told["sentences"][1]


def test_one_misfit_is_named_second_and_doubts_nothing_else(ask):
    numbers = [900, 1900, 3000, 4100, 5200, 6300, 7700, 8500]
    _, told = ask(DATE, dated_table(numbers, [*range(1880, 1887), 1870]), of="4600")
    assert told["grade"] == "inferred"
    assert "Look again at 8500 made 1870: it does not fit the other dates" in told["sentences"][1]


def test_dates_of_one_person_without_a_paper_are_conjectured_and_said_first(ask):
    head = "id,mark,dated,dated_kind,evidence,reporter\n"
    rows = [(f"R{i}", 1000 + 400 * i, 1870 + 2 * i) for i in range(5)]
    known = "number overall | weight 50, thought of before"

    def told(evidence, by):
        lines = [f"{id_},{n},{y},at,{evidence},{by(id_)}" for id_, n, y in rows]
        return ask(DATE, head + "\n".join(lines), of="2100", schemes=known)[1]

    guessed = told("", lambda _: "A. Quill")
    assert guessed["results"][0]["grade"] == "conjectured"
    assert "All 5 dates are one person's" in guessed["sentences"][1]
    assert "Quill" not in str(guessed)
    sound = told("receipt", lambda _: "A. Quill")
    assert sound["results"][0]["grade"] == "inferred"
    assert "one person's" not in " ".join(sound["sentences"])
