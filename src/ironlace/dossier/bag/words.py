"""What a bag says in words: how to read each file without any program, cautions, how to cite it."""

import textwrap
from collections.abc import Collection, Sequence
from datetime import datetime

from ironlace.dossier.account.whole import Account
from ironlace.dossier.pack import StencilsShown, readme_of
from ironlace.evidence.wording import capital

_CHARACTERS = 80
"""Of a line, as terminals and plain editors show it."""

_FILES: tuple[tuple[str, str], ...] = (
    (
        "originals",
        "The photographs and drawings as they came, never altered. Their names begin with the name "
        "of their entry in record.json. JPEG, PNG and TIFF are pictures; SVG is a drawing written "
        "as text, in millimetres.",
    ),
    (
        "findings",
        "Each computed result as a file of its own: what it says, by which published method, with "
        "which settings, and for each thing it was computed from the checksum and the file that "
        "holds it here. JSON: text that any editor shows.",
    ),
    (
        "survey",
        "The reports of other machines as a table (.csv: text, one line a report, commas between) "
        "and a description of its columns beside it (CSV on the Web).",
    ),
    ("cautions.txt", "Where work on this machine can hurt someone, and what to do. Read it first."),
    (
        "record.schema.json",
        "What may stand in record.json and what each word of it means (JSON Schema, 2020-12).",
    ),
    (
        "ro-crate-metadata.json",
        "A list of the files for archives and their programs (RO-Crate 1.1, JSON-LD).",
    ),
    (
        "account.html",
        "The account on one bare page: HTML without style or script, the pictures beside it.",
    ),
    ("CITATION.cff", "How to cite it (Citation File Format 1.2)."),
    (
        "datacite.json",
        "The same for registries of research data (DataCite Metadata Schema 4.5). What nobody said "
        "is marked there as (:unav), unavailable, by the schema's own code.",
    ),
)

_WITHOUT_PROGRAMS = (
    "To read it without any program: begin with dossier-a4.pdf (PDF/A, made to be kept), or with "
    "account.html in whatever shows web pages. Should neither be readable any more, record.json, "
    "findings/ and the tables are plain text in English: every entry says in words what it is, how "
    "it is known and who vouches for it.",
    "To see whether anything was changed, is missing or was added: beside data/ stand "
    "manifest-sha256.txt and manifest-sha512.txt, with a checksum for each file (SHA-2, FIPS "
    "180-4). Any program for such checksums reads them, such as 'sha256sum --check "
    "manifest-sha256.txt' in that folder. The folder as a whole is a bag after RFC 8493. "
    "'ironlace verify FOLDER' does the same and computes every finding again.",
)


def bag_readme(
    account: Account,
    made: datetime,
    stencils: Sequence[StencilsShown],
    without: Sequence[str],
    there: Collection[str],
    *,
    held_back: Sequence[str],
) -> str:
    """README.txt of a bag: that of the pack, the further files, and how to read them for long.

    Parameters
    ----------
    there
        Names of the files and folders at the top of the payload.
    held_back
        Names of the entries whose originals stay out.
    """
    lines = [readme_of(account, made, stencils, without), "For whoever keeps it:", ""]
    for name, words in _FILES:
        if name in there or name == "ro-crate-metadata.json":
            lines.append(name if "." in name else f"{name}/")
            lines.append(_filled(words, "    "))
    if held_back:
        held = f"Originals that are not in this copy: {', '.join(held_back)}. {_WHY_HELD}"
        lines += ["", _filled(held)]
    for words in _WITHOUT_PROGRAMS:
        lines += ["", _filled(words)]
    return "\n".join([*lines, ""])


_WHY_HELD = (
    "Their files say more than their picture, or may do so, such as where and with which camera "
    "they were taken, which is not for strangers, or whoever packed it kept them back; the account "
    "shows them without it."
)


def cautions_text(
    title: str, cautions: Sequence[tuple[str, str, str]], laying: Sequence[str]
) -> str:
    """cautions.txt: hazard, what to say of it, what that rests on; empty when there are none."""
    lines: list[str] = []
    for hazard, says, rests_on in dict.fromkeys(cautions):
        lines += [capital(hazard), _filled(says, "    "), _filled(rests_on, "    "), ""]
    if laying:
        lines += ["Cutting and laying the stencil sheets"]
        lines += [_filled(line, "    ") for line in dict.fromkeys(laying)] + [""]
    return "\n".join([f"Cautions: {' '.join(title.split())}", "", *lines]) if lines else ""


def _filled(words: str, indent: str = "") -> str:
    return textwrap.fill(words, _CHARACTERS, initial_indent=indent, subsequent_indent=indent)
