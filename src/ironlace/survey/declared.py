"""The questions that this room answers, in the order in which they are asked."""

from ironlace.evidence.analyses import Declared
from ironlace.survey.answers.how_many_made import COUNT
from ironlace.survey.answers.how_many_survive import SURVIVORS
from ironlace.survey.answers.what_next import NEXT
from ironlace.survey.answers.when_made import DATE
from ironlace.survey.answers.which_numbering import COMPARE

ANALYSES: tuple[Declared, ...] = (COMPARE, DATE, COUNT, SURVIVORS, NEXT)
"""The questions that can be put to a survey."""
