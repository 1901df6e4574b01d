"""Cautions read out of plain steps: three batches of sentences.

The list was tuned on the first batch. The second was written before the list was ever run; on its
first run it missed 2 of 78 that were due and showed 4 needless. What was mended then are classes
(compounds with a hyphen, raising one side of what is weighed, the works as a noun), seen in it. The
third was written after that and nothing was changed by it: 0 missed of 60 due, 1 needless.
"""

import csv
from pathlib import Path

import pytest

from ironlace.care.step_words import cautions_due, forms_of

HERE = Path(__file__).parent


@pytest.mark.parametrize(
    ("batch", "needless"),
    [("steps_tuned_on.csv", 2), ("steps_written_apart.csv", 4), ("steps_never_tuned_on.csv", 4)],
)
def test_none_is_missed_and_few_are_needless(batch, needless):
    missed, too_many, due = [], [], 0
    with (HERE / batch).open(encoding="utf-8", newline="") as file:
        for text, wanted in list(csv.reader(file))[1:]:
            found = {hazard.short for hazard in cautions_due(text)}
            due += len(wanted.split())
            missed += [(text, name) for name in wanted.split() if name not in found]
            too_many += [(text, name) for name in found if name not in wanted.split()]
    assert due >= 60
    assert not missed
    assert len(too_many) <= needless


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("Sand it. Do not heat it.", ["lead"]),
        ("Do not sand it, but scrape the paint.", ["lead"]),
        ("Do not heat the casting above 80 degrees.", ["heating"]),
        ("If it does not come off, heat the pin.", ["lead", "heating"]),
        ("Keep the print in acid-free paper.", []),
        ("Never let the linseed rags lie in a heap.", ["oil_rags"]),
        ("Do not use acid or heat on the japan.", []),
        ("", []),
    ],
)
def test_what_is_not_done_calls_for_nothing(text, names):
    assert [hazard.short for hazard in cautions_due(text)] == names


def test_forms_of_words():
    assert "carried" in forms_of("carry")
    assert "stripping" in forms_of("strip")
    assert "scraping" in forms_of("scrape")
