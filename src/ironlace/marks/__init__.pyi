from .declared import ANALYSES
from .errors import MarksError
from .plate_analysis import PLATE_RELIEF
from .reading_analysis import MARK_READING

__all__ = ["ANALYSES", "MARK_READING", "PLATE_RELIEF", "MarksError"]
