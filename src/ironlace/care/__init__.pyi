from .cautions import Caution, Hazard, called_for, caution_for
from .declared import ANALYSES

__all__ = ["ANALYSES", "Caution", "Hazard", "called_for", "caution_for"]
