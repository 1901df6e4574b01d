"""What can go wrong while an account is made."""

from ironlace.evidence.errors import ConflictError, IronlaceError


class DossierError(IronlaceError):
    """Something that was to be printed or published cannot be."""


class DrawingRefusedError(DossierError):
    """A drawing is not a plain vector drawing in millimetres."""


class PictureRefusedError(DossierError):
    """A viewing copy of a photograph cannot be read."""


class FolderTakenError(DossierError, ConflictError):
    """A folder holds something else than what is to be written there."""

    http_status = 409


class BagRefusedError(DossierError):
    """A folder is no bag of a record, or one cannot be made of what there is."""
