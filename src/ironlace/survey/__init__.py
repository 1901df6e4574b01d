r"""Reports of other machines, and what their numbers say: schemes, dates, totals, survivors.

>>> from ironlace.survey import compare, read_reports
>>> reports = read_reports("id,mark\nA,4.96.217\nB,11.95.30\nC,7.93.412\n").reports
>>> compare(reports).best.name
'month-year-count'
"""

from ironlace.survey.anchors import Anchor, read_anchors
from ironlace.survey.assumptions import Assumptions
from ironlace.survey.comparison import Comparison, compare
from ironlace.survey.dating import Dating, date_of
from ironlace.survey.errors import SurveyError
from ironlace.survey.reports import Report, read_reports, write_reports
from ironlace.survey.scheme_library import Candidate, read_schemes
from ironlace.survey.schemes import Scheme
from ironlace.survey.sensitivity import sensitivity

__all__ = [
    "Anchor",
    "Assumptions",
    "Candidate",
    "Comparison",
    "Dating",
    "Report",
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
