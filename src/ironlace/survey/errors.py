"""What can be wrong with a survey that comes in."""

from ironlace.evidence.errors import IronlaceError


class SurveyError(IronlaceError):
    """A survey, or something asked of it, cannot be used."""


class SchemeError(SurveyError):
    """A line of text does not describe a way of numbering."""


class ReportsError(SurveyError):
    """A table of reports, anchors or sightings cannot be read at all."""
