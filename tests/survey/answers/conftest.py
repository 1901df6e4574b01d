"""Putting a question to a table of reports."""

import json

import pytest

from ironlace.evidence.analyses import asked_from
from ironlace.evidence.progress import Steps
from ironlace.survey import Reports, read_reports


@pytest.fixture
def ask():
    """Work an analysis out on a table; gives what was found, and the answer as JSON holds it."""

    def ask(analysis, text, **given):
        reports = Reports.from_table(read_reports(text))
        found = analysis.work(reports, asked_from(analysis.asked, given), Steps())
        told = analysis.answer(found).as_dict()
        return found, json.loads(json.dumps(told, allow_nan=False))

    return ask
