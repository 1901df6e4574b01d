import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report, compare, read_reports
from ironlace.survey.answers.next_report import next_report
from ironlace.survey.answers.odds_trace import odds_trace
from ironlace.survey.answers.plots import (
    month_year_grid,
    numbers_against_dates,
    odds_as_they_came,
    power_curves,
)
from ironlace.survey.errors import SurveyError
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.time.timeline import DatedNumber, timeline

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def line():
    anchors = [
        DatedNumber(8000, DatedKind.AT, EdtfDate.parse("1890")),
        DatedNumber(21000, DatedKind.SOLD, EdtfDate.parse("1895-06")),
        DatedNumber(26000, DatedKind.NOT_BEFORE, EdtfDate.parse("1896-03")),
    ]
    numbers = [5000, 15000, 30000]
    found = timeline(anchors, numbers, first_year=1870, last_year=1920)
    return anchors, {n: found.of(n) for n in numbers}


def well_formed(plot):
    root = ET.fromstring(plot.svg)
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == plot.title
    assert root.find(f"{SVG}desc").text == " ".join(plot.sentences)
    assert len({len(row) for row in plot.table}) == 1
    return root


def test_numbers_against_dates(line):
    plot = numbers_against_dates(*line, highlight=15000)
    root = well_formed(plot)
    assert not list(root.iter(f"{SVG}text"))  # outlines: no reader's font can be missing
    words = re.findall("<!-- (.*?) -->", plot.svg)  # the drawing notes what each outline says
    assert {"running number", "not made before", "sold", "made", "15,000"} <= set(words)
    assert "currentColor" in plot.svg and "Number 15000" in plot.sentences[1]
    assert len(plot.table) == 4


def test_print_has_no_page_colours(line):
    plot = numbers_against_dates(*line, screen=False)
    assert "currentColor" not in plot.svg and "var(" not in plot.svg


def test_the_same_plot_is_the_same_text(line):
    assert numbers_against_dates(*line).svg == numbers_against_dates(*line).svg


def test_month_year_grid_says_what_is_missing():
    plot = month_year_grid([(1893, 7), (1894, 12), (1893, 7)], highlight=(1893, 7))
    well_formed(plot)
    assert "22 months have not turned up" in plot.sentences[0]
    assert plot.table[1][7] == "2"


def test_odds_as_they_came():
    reports = [
        Report(f"R{i}", parse_marking(m))
        for i, m in enumerate(["4.96.217", "11.95.30", "7.93.412"])
    ]
    plot = odds_as_they_came(odds_trace(reports))
    well_formed(plot)
    assert "After 1 report " in plot.sentences[0] and len(plot.table) == 4


def test_nothing_to_draw_is_refused():
    with pytest.raises(SurveyError):
        month_year_grid([])
    with pytest.raises(SurveyError):
        numbers_against_dates([], {})
    with pytest.raises(SurveyError):
        odds_trace([])


def test_power_curves_say_the_same_in_words_and_figures():
    found = compare(read_reports("id,mark\nA,4.96.217\nB,11.95.30\n").reports)
    asked = next_report(found, np.random.default_rng(2), trials=40)
    plot = power_curves(asked)
    assert plot.svg.startswith("<svg")
    assert "further reports" in plot.sentences[-1]
    assert plot.table[0][0] == "further reports"
    assert len(plot.table) == 1 + len(asked.power[0].chance)
    assert plot.table[1][1] == f"{asked.power[0].chance[0]:.0%}".replace("%", " %")
