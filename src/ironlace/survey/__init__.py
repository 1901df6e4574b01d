"""Reports of other machines, and what their numbers say: schemes, dates, totals, survivors.

>>> from ironlace.survey import compare, read_reports
>>> rows = ["A,4.96.217", "B,11.95.30", "C,7.93.412"]
>>> reports = read_reports(chr(10).join(["id,mark", *rows])).reports
>>> compare(reports).best.name
'month-year-count'
"""

from ironlace.survey.answers.comparison import Comparison, compare
from ironlace.survey.answers.dating import Dating, date_of
from ironlace.survey.answers.how_many_made import COUNT
from ironlace.survey.answers.how_many_survive import SURVIVORS
from ironlace.survey.answers.sensitivity import sensitivity
from ironlace.survey.answers.what_next import NEXT
from ironlace.survey.answers.when_made import DATE
from ironlace.survey.answers.which_numbering import COMPARE
from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.reports.anchors import Anchor, read_anchors
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import Report, read_reports, write_reports
from ironlace.survey.schemes.library import Candidate, read_schemes
from ironlace.survey.schemes.scheme import Scheme

ANALYSES = (COMPARE, DATE, COUNT, SURVIVORS, NEXT)
"""The questions that can be put to a survey."""

__all__ = [
    "ANALYSES",
    "COMPARE",
    "COUNT",
    "DATE",
    "NEXT",
    "SURVIVORS",
    "Anchor",
    "Assumptions",
    "Candidate",
    "Comparison",
    "Dating",
    "Report",
    "Reports",
    "Scheme",
    "SurveyError",
    "compare",
    "date_of",
    "read_anchors",
    "read_reports",
    "read_schemes",
    "sensitivity",
    "write_reports",
]
