"""What a spreadsheet or a hand does to a whole column is told first, or the table is refused."""

import numpy as np
import pytest

from failing_tables import FAILINGS, Table
from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.anchors import read_anchors
from ironlace.survey.reports.counted import Reports, set_aside_in_words
from ironlace.survey.reports.table import read_reports

TOLD_BY_THE_READER = (
    "century wrong",
    "day and month one",
    "two figures",
    "years of two figures",
    "row copied",
    "headed like it",
    "headed otherwise",
    "blank rows",
    "shortened",
    "thousands parted",
)


def table(seed):
    """Fourteen machines, each with its month of making."""
    rng = np.random.default_rng(seed)
    numbers = np.sort(rng.choice(30_000, 14, replace=False)) + 10_000
    rows = [
        (f"r{i}", str(n), f"{1870 + i}-{rng.integers(1, 10):02d}", "at", "1999-04")
        for i, n in enumerate(numbers, 1)
    ]
    return Table(("id", "mark", "dated", "dated_kind", "sighted"), tuple(rows))


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", TOLD_BY_THE_READER)
def test_what_is_wrong_with_a_column_is_told_first_or_refused(name, seed):
    spoilt = FAILINGS[name](np.random.default_rng(seed), table(seed))
    try:
        reports = Reports.from_table(read_reports(spoilt.table.text))
    except ReportsError:
        return
    first = " ".join(reports.told_with(["About 7,000 were made."])[1:3])
    assert any(one in first for one in (*spoilt.names, "set aside", "not read", "outside")), first


@pytest.mark.parametrize("seed", [1, 2])
def test_a_sound_table_is_read_without_a_word(seed):
    read = read_reports(table(seed).text)
    assert len(read.reports) == 14
    assert not (read.ahead or read.remarks or read.set_aside)


@pytest.mark.parametrize("name", ["century wrong", "two figures", "columns swapped", "shortened"])
def test_of_dated_examples_what_cannot_be_read_is_set_aside_and_counted(name):
    rows = [(mark, "at", dated) for _, mark, dated, _, _ in table(3).rows]
    spoilt = FAILINGS[name](
        np.random.default_rng(1), Table(("serial", "kind", "date"), tuple(rows))
    )
    read = read_anchors(spoilt.table.text)
    (said,) = set_aside_in_words(read.set_aside, len(read.anchors), "dated examples")
    assert f"{len(read.set_aside)} of 14 dated examples" in said
