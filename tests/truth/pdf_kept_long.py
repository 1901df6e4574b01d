"""What ISO 19005-2 (PDF/A-2, level A) asks of a file's structure, looked up object by object.

It reads no content stream, so it cannot tell whether every operator is one that is allowed,
whether a glyph's width is that of its font, or whether the tags tell the order of reading well.
"""

from collections.abc import Iterator

import pikepdf

BLEND_MODES = {
    "Normal", "Compatible", "Multiply", "Screen", "Overlay", "Darken", "Lighten", "ColorDodge",
    "ColorBurn", "HardLight", "SoftLight", "Difference", "Exclusion", "Hue", "Saturation", "Color",
    "Luminosity",
}  # fmt: skip
ACTIONS_FORBIDDEN = {
    "/Launch", "/Sound", "/Movie", "/ResetForm", "/ImportData", "/Hide", "/SetOCGState",
    "/Rendition", "/Trans", "/GoTo3DView", "/JavaScript",
}  # fmt: skip
HIDDEN, INVISIBLE, PRINT, NO_VIEW = 2, 1, 4, 32


def faults_of(file, part: str = "2", conformance: str = "A") -> list[str]:
    """Each thing that keeps a file from being what it says, empty when nothing was found."""
    with pikepdf.open(file) as pdf:
        return list(_faults(pdf, part, conformance))


def _faults(pdf, part, conformance) -> Iterator[str]:
    root = pdf.Root
    if pdf.is_encrypted or "/Encrypt" in pdf.trailer:
        yield "encrypted (6.1.3)"
    if "/ID" not in pdf.trailer:
        yield "no file identifier (6.1.3)"
    yield from _metadata(pdf, part, conformance)
    yield from _intents(root)
    if root.get("/MarkInfo", {}).get("/Marked") is not True and not bool(
        root.get("/MarkInfo", {}).get("/Marked", False)
    ):
        yield "not marked as tagged (6.7.2)"
    if "/StructTreeRoot" not in root:
        yield "no structure (6.7.3)"
    if "/Lang" not in root:
        yield "no language (6.7.4)"
    for key in ("/AA", "/OpenAction", "/Perms", "/Requirements"):
        if key in root:
            yield f"{key} in the catalogue"
    names = root.get("/Names", {})
    for key in ("/JavaScript", "/EmbeddedFiles", "/AlternatePresentations"):
        if key in names:
            yield f"{key} among the names"
    for number, thing in enumerate(pdf.objects):
        for fault in _of_object(thing):
            yield f"object {number}: {fault}"
    for number, page in enumerate(pdf.pages, 1):
        for fault in _of_page(page, has_intent="/OutputIntents" in root):
            yield f"page {number}: {fault}"


def _metadata(pdf, part, conformance) -> Iterator[str]:
    if "/Metadata" not in pdf.Root:
        yield "no XMP (6.6.2)"
        return
    stream = pdf.Root.Metadata
    if "/Filter" in stream:
        yield "XMP is filtered (6.6.2.1)"
    with pdf.open_metadata(update_docinfo=False, set_pikepdf_as_editor=False) as told:
        if told.get("pdfaid:part") != part or told.get("pdfaid:conformance") != conformance:
            yield f"says it is part {told.get('pdfaid:part')} {told.get('pdfaid:conformance')}"
        if not told.get("dc:title"):
            yield "no title in XMP"
        info = pdf.trailer.get("/Info", {})
        if "/Title" in info and str(info["/Title"]) != told.get("dc:title"):
            yield "two titles (6.6.2.3)"


def _intents(root) -> Iterator[str]:
    intents = [one for one in root.get("/OutputIntents", []) if one.get("/S") == "/GTS_PDFA1"]
    if len(intents) != 1:
        yield f"{len(intents)} output intents for PDF/A (6.2.3)"
        return
    profile = intents[0].get("/DestOutputProfile")
    if profile is None:
        yield "output intent without profile (6.2.3)"
        return
    icc = profile.read_bytes()
    colours = {b"GRAY": 1, b"RGB ": 3, b"CMYK": 4}.get(icc[16:20])
    if icc[36:40] != b"acsp" or colours != int(profile.N) or icc[8] > 4:
        yield "the profile is no ICC profile of as many colours as it says (6.2.3)"


def _of_object(thing) -> Iterator[str]:
    if not isinstance(thing, (pikepdf.Dictionary, pikepdf.Stream)):
        return
    kind = thing.get("/Type")
    if isinstance(thing, pikepdf.Stream):
        if "/F" in thing:
            yield "a stream kept elsewhere (6.1.7.1)"
        filters = thing.get("/Filter", [])
        if "/LZWDecode" in (filters if isinstance(filters, pikepdf.Array) else [filters]):
            yield "LZW (6.1.7.2)"
        if thing.get("/Subtype") == "/Image" and (
            "/Alternates" in thing or "/OPI" in thing or bool(thing.get("/Interpolate", False))
        ):
            yield "an image with alternates, OPI or interpolation (6.2.8)"
        if thing.get("/Subtype") == "/PS":
            yield "PostScript (6.2.9)"
    if kind == "/Font":
        yield from _of_font(thing)
    if kind == "/ExtGState" or "/BM" in thing or "/SMask" in thing:
        if "/TR" in thing:
            yield "a transfer function (6.2.5)"
        modes = thing.get("/BM", "/Normal")
        for mode in modes if isinstance(modes, pikepdf.Array) else [modes]:
            if str(mode).lstrip("/") not in BLEND_MODES:
                yield f"blend mode {mode} (6.2.10)"
    if str(thing.get("/S", "")) in ACTIONS_FORBIDDEN and (kind == "/Action" or "/JS" in thing):
        yield f"action {thing.S} (6.5.1)"


def _of_font(font) -> Iterator[str]:
    below = font.get("/Subtype")
    if below == "/Type3":
        return
    if below == "/Type0":
        if "/ToUnicode" not in font:
            yield f"font {font.get('/BaseFont')} cannot be read back as text (6.2.11.7)"
        return  # what it is made of is an object of its own
    described = font.get("/FontDescriptor", {})
    if not any(key in described for key in ("/FontFile", "/FontFile2", "/FontFile3")):
        yield f"font {font.get('/BaseFont')} is not embedded (6.2.11.4)"


def _of_page(page, *, has_intent: bool) -> Iterator[str]:
    if "/AA" in page.obj:
        yield "an action of its own (6.5.2)"
    group = page.obj.get("/Group", {})
    if not has_intent and "/CS" not in group and _transparent(page):
        yield "transparent with no colour space to blend in (6.2.10)"
    for note in page.obj.get("/Annots", []):
        flags = int(note.get("/F", 0))
        if note.get("/Subtype") != "/Popup" and (
            not flags & PRINT or flags & (HIDDEN | INVISIBLE | NO_VIEW)
        ):
            yield f"a note {note.get('/Subtype')} that does not print (6.3.2)"


def _transparent(page) -> bool:
    states = page.obj.get("/Resources", {}).get("/ExtGState", {})
    return any(float(s.get("/ca", 1)) < 1 or float(s.get("/CA", 1)) < 1 for s in states.values())
