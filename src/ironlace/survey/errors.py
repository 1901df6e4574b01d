"""What can be wrong with a survey that comes in."""

from ironlace.evidence.errors import IronlaceError


class SurveyError(IronlaceError):
    """A survey, or something asked of it, cannot be used."""


class SchemeError(SurveyError):
    """A line of text does not describe a way of numbering."""


class ReportsError(SurveyError):
    """A table of reports, anchors or sightings cannot be read at all."""


class RowError(ReportsError):
    """A row of a table cannot be used.

    Attributes
    ----------
    brief
        Why, in a few words that are the same for all rows of which it is true.
    """

    def __init__(self, says: str, brief: str) -> None:
        super().__init__(says)
        self.brief = brief
