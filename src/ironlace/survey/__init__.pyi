from .answers.comparison import Comparison, compare
from .answers.dating import Dating, date_of
from .answers.how_many_made import COUNT
from .answers.how_many_survive import SURVIVORS
from .answers.sensitivity import sensitivity
from .answers.what_next import NEXT
from .answers.when_made import DATE
from .answers.which_numbering import COMPARE
from .declared import ANALYSES
from .errors import SurveyError
from .likelihood.assumptions import Assumptions
from .reports.anchors import Anchor, read_anchors
from .reports.counted import Reports
from .reports.table import Report, read_reports, write_reports
from .schemes.library import Candidate, read_schemes
from .schemes.scheme import Scheme

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
