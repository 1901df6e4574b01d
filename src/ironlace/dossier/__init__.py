"""The account of a machine, as the next owner and other researchers hold it in their hands.

A record goes in, with viewing copies of its photographs and its drawings; out come a printed
dossier, a web site without scripts, sheets at true scale, and the pack that holds them all.
"""

from ironlace.dossier.account.blocks import FigureShown, PictureFile
from ironlace.dossier.account.findings_as_blocks import FindingWords
from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.account.whole import Account
from ironlace.dossier.errors import (
    DossierError,
    DrawingRefusedError,
    FolderTakenError,
    PictureRefusedError,
)
from ironlace.dossier.pack import write_pack
from ironlace.dossier.print.pdf import dossier_pdf
from ironlace.dossier.print.true_scale import strip_pdf, true_scale_pdf
from ironlace.dossier.print.typesetting import Paper
from ironlace.dossier.privacy import left_out, public_copy
from ironlace.dossier.site.pages import write_site

__all__ = [
    "Account",
    "DossierError",
    "DrawingRefusedError",
    "FigureShown",
    "FindingWords",
    "FolderTakenError",
    "Paper",
    "PictureFile",
    "PictureRefusedError",
    "account_of",
    "dossier_pdf",
    "left_out",
    "public_copy",
    "strip_pdf",
    "true_scale_pdf",
    "write_pack",
    "write_site",
]
