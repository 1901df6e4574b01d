from .account.blocks import FigureShown, PictureFile
from .account.findings_as_blocks import FindingWords
from .account.record_to_account import account_of
from .account.whole import Account
from .errors import DossierError, DrawingRefusedError, FolderTakenError, PictureRefusedError
from .pack import write_pack
from .print.pdf import dossier_pdf
from .print.true_scale import strip_pdf, true_scale_pdf
from .print.typesetting import Paper
from .privacy import left_out, public_copy
from .site.pages import write_site

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
