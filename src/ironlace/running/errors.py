"""What can be wrong with what the running of a machine is worked out from."""

from ironlace.evidence.errors import IronlaceError


class RunningError(IronlaceError):
    """Readings that cannot bear an answer about how a machine runs."""


class ContradictionError(RunningError):
    """Two readings of one setting that no scatter reconciles; a third one there would tell.

    Attributes
    ----------
    wheel
        What the disc shows at that setting, degrees.
    """

    def __init__(self, says: str, wheel: float) -> None:
        super().__init__(says)
        self.wheel = wheel
