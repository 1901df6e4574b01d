import json

import numpy as np
import pytest

from ironlace.survey.answers.studies import (
    compare_study,
    count_study,
    date_study,
    next_study,
    survivors_study,
)
from ironlace.survey.errors import SurveyError

DOTTED = [
    *("4.96.217", "11.95.30", "7.93.412", "2.97.118", "12.94.77"),
    *("4.96.271", "11.95.30", "5.94.100", "?.95.12"),
]
TABLE = "id,mark,sighted\n" + "".join(f"R{i},{m},{2000 + i % 4}\n" for i, m in enumerate(DOTTED))


def plain(study):
    json.dumps(study.as_dict(), allow_nan=False)
    assert study.as_dict()["sentences"] == study.sentences()
    return " ".join(study.sentences())


def test_compare_counts_machines_once_and_names_pairs():
    study = compare_study(TABLE + "bad,,\n")
    said = plain(study)
    assert len(study.comparison.reports) == len(DOTTED) - 1
    assert "second sighting" in said and "changed round" in said and "set aside" in said


def test_compare_with_own_schemes_and_sensitivity():
    study = compare_study(
        TABLE, "mine: month, dot, year, dot, number in month\n", with_sensitivity=True
    )
    assert study.comparison.best.name == "mine" and study.moved
    plain(study)


def test_date_with_and_without_anchors():
    assert date_study(TABLE, "4.96.217").as_dict()["edtf"] == "1896-04"
    anchored = date_study(TABLE, "4.96.217", "serial,kind,date\n4.96.217,sold,1896-06\nx,at,?\n")
    assert len(anchored.anchors) == 1 and anchored.as_dict()["set_aside"]
    plain(anchored)


def test_count_by_month_sums_over_the_months():
    study = count_study(TABLE)
    assert study.series is not None and study.all_series[0] == 44
    assert study.not_read == ("R8",)
    assert "allowed for" in plain(study)
    assert study.all_series[1].low < study.all_series[1].middle < study.all_series[1].high


def test_count_of_a_running_number():
    numbers = [10234, 15621, 8020, 30122, 22456, 1200, 3400]
    table = "id,mark\n" + "".join(f"R{n},{n}\n" for n in numbers)
    study = count_study(table, "number overall")
    assert study.overall.low >= 30122 and study.blocks is not None
    plain(study)


def test_count_refuses_when_no_number_runs():
    with pytest.raises(SurveyError, match="No mark reads"):
        count_study("id,mark\nA,ABC\n", "number overall")


def test_survivors_and_next():
    assert survivors_study(TABLE).seen_again == 1
    plain(survivors_study(TABLE))
    assert "bits" in plain(next_study(TABLE, np.random.default_rng(0)))


@pytest.mark.parametrize("text", ["id,mark\n", "id,mark\nA,\n"])
def test_a_table_without_a_usable_row_is_refused(text):
    for call in (compare_study, count_study, survivors_study):
        with pytest.raises(SurveyError):
            call(text)
