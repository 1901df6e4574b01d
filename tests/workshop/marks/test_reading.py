import json
from dataclasses import replace

import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.marks.errors import MarksError
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.read_marks import DigitRead, GapRead, Interval, MarksRead, PlateRead
from ironlace.marks.reading.strings import strings_of
from ironlace.survey.reports.strings_read import left_to_others
from ironlace.survey.reports.table import read_reports
from ironlace.workshop.marks.reading import Asked, Found, read_folder
from ironlace.workshop.marks.reading_files import read_relief
from rows_apart import row_apart


def _found(digits, struck, outside=0.0, held=None):
    read = tuple(
        DigitRead(Place("digit", 0, k, 0, 0, 96), 2.4, 0.05, p) for k, p in enumerate(digits)
    )
    gaps = tuple(
        GapRead(Place("gap", 0, k, 0, 0, 96), 0, 0, p, Interval(0.02, 0.01, 0.03), 0.35)
        for k, p in enumerate(struck)
    )
    plate = PlateRead(Interval(0.5, 0.3, 0.7), 0.8, 0.4, base_rate_given=False,
                      outside_tuning=outside, face_held=held)  # fmt: skip
    row = row_apart(digits, struck)
    marks = MarksRead(read, gaps, (strings_of(0, row),), {0: row}, plate)
    return Found(marks, "a relief", scale_known=True, searched=False)


def test_doubts_go_to_the_survey_and_no_string_is_chosen():
    even = dict.fromkeys("0123456789", 0.1)
    found = _found([{"3": 0.7, "8": 0.3}, {"1": 0.99, "7": 0.01}, even], [0.5, 0.999])
    reports = read_reports(found.report_csv())
    assert not reports.set_aside
    assert reports.reports[0].mark == parse_marking("[38](.)1.?")
    strings = reports.reports[0].strings
    assert str(strings[0].mark).startswith("3")
    assert 0 < left_to_others(strings) < 0.02


def test_the_rate_of_dots_is_for_the_theories_not_for_the_plate_to_count_with():
    # by the rate of 0.4 a gap at which nothing can be seen has a dot with 0.4
    reports = read_reports(_found([{"3": 1.0}, {"1": 1.0}], [0.4]).report_csv())
    chances = {str(one.mark): one.chance for one in reports.reports[0].strings}
    assert chances == pytest.approx({"3·1": 0.5, "31": 0.5}, abs=1e-3)


def test_sentences_say_doubts_scale_and_strangeness():
    said = " ".join(_found([{"3": 0.7, "8": 0.3}] * 2, [0.5], outside=0.4).sentences())
    assert "cannot be told" in said
    assert "unlike those the judges were tuned on" in said
    assert "by the plate" in said


@pytest.mark.parametrize(("held", "says"), [(None, False), (0.66, False), (0.3, True)])
def test_how_much_of_what_is_struck_the_figures_hold_is_told_where_it_is_little(held, says):
    found = _found([{"3": 1.0}] * 2, [0.5], held=held)
    said = " ".join(found.sentences())
    assert ("the figures laid hold 30%" in said) is says
    assert found.as_dict()["plate"]["face_held"] == held


def test_a_folder_without_relief_or_places_is_refused(tmp_path):
    with pytest.raises(MarksError, match="No row of digits"):
        normals = np.zeros((300, 400, 3), np.float32)
        normals[..., 2] = 1
        np.save(tmp_path / "normals.npy", normals)
        (tmp_path / "relief.json").write_text('{"mm_per_px": 0.05, "scale_known": true}')
        read_folder(tmp_path, Asked())


def test_what_is_doubted_of_the_relief_stands_before_what_is_read_off_it(tmp_path):
    normals = np.zeros((30, 40, 3), np.float32)
    normals[..., 2] = 1
    np.save(tmp_path / "normals.npy", normals)
    told = {"mm_per_px": 0.05, "scale_known": True, "doubted": True, "notices": ["A lamp was on."]}
    (tmp_path / "relief.json").write_text(json.dumps(told))
    doubt = read_relief(tmp_path).doubt
    found = _found([{"3": 0.7, "8": 0.3}] * 2, [0.5])
    said = replace(found, read=found.read.of_a_relief(doubt)).sentences()
    assert said[0] == "The relief itself is doubted. A lamp was on."
    (tmp_path / "relief.json").write_text(json.dumps({**told, "doubted": False}))
    assert found.read.of_a_relief(read_relief(tmp_path).doubt) is found.read
