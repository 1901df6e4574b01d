"""Which photograph stands for the machine: at the head of its page, in the list, on the account."""

from collections.abc import Iterable

from ironlace.record.choices import PhotographRole
from ironlace.record.entries import Photograph


def heading_photograph(
    photographs: Iterable[tuple[str, Photograph]],
) -> tuple[str, Photograph] | None:
    """Return the photograph that shows the whole: name and entry; None when none does.

    The latest kept for the whole machine, so that a person chooses by keeping one for that; else
    the first of it as found, which is commonly taken before one goes round it.

    >>> roles = ("as found", "as found", "mark")
    >>> shots = [Photograph(sha256="0" * 64, role=role) for role in roles]
    >>> taken = [(f"photograph {number}", shot) for number, shot in enumerate(shots, 1)]
    >>> heading_photograph(taken)[0], heading_photograph(taken[2:])
    ('photograph 1', None)
    """
    found: tuple[str, Photograph] | None = None
    for name, photograph in photographs:
        if photograph.role is PhotographRole.WHOLE or (
            photograph.role is PhotographRole.AS_FOUND and found is None
        ):
            found = name, photograph
    return found
