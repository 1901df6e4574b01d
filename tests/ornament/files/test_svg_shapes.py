"""One file, one ornament: whoever reads an SVG sees the same area of it.

The print is measured on a rendering by another library, so it stands for what SVG itself says.
"""

import io
import math

import numpy as np
import pytest
import shapely
from PIL import Image

from ironlace.dossier.print.ink_window import ink_window, trimmed_svg
from ironlace.dossier.print.plain_drawing import read_drawing
from ironlace.ornament import brought_back, drawing_from_svg, drawing_svg
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.files.drawing_film import film_of_drawing
from ironlace.ornament.files.drawing_svg import read_drawing_svg
from ironlace.ornament.files.svg_shapes import read_svg
from ironlace.ornament.outline.drawing import filled_area
from ironlace.ornament.stencils import OutlineError, read_filled

MM = 'width="40mm" height="30mm" viewBox="0 0 40 30"'
RECT = '<rect x="5" y="5" width="30" height="20"{}/>'
SMALL = '<rect x="10" y="10" width="10" height="10"/>'


def svg(body, head=MM):
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f"{head}>{body}</svg>"
    )


def at_the_bench(text):
    drawing = drawing_from_svg(text)
    areas = [filled_area((p for p in drawing.paths if p.layer == n), 0.001) for n in drawing.layers]
    return shapely.union_all(areas).area


def for_sheets(text):
    return read_filled(text).region.area


def on_film(text):
    with Image.open(io.BytesIO(b"".join(film_of_drawing(drawing_from_svg(text), 600)))) as film:
        black = ~np.asarray(film)
    # without the thin line around the film
    return black[10:-10, 10:-10].sum() * (25.4 / 600) ** 2


def in_print(text):
    import typst

    drawing = read_drawing(text)
    window = ink_window(drawing)
    page = (
        f"#set page(width: {window.width}mm, height: {window.height}mm, margin: 0mm)\n"
        f'#image(bytes(sys.inputs.svg), format: "svg", width: {window.width}mm)'
    )
    png = typst.compile(
        page.encode(), format="png", ppi=508, sys_inputs={"svg": trimmed_svg(drawing, window)}
    )
    with Image.open(io.BytesIO(png)) as rendered:
        return float((1.0 - np.asarray(rendered.convert("L")) / 255.0).sum()) / 20.0**2


def given_back(text):
    """Through the door for a drawing that comes back from an editor."""
    original = drawing_svg(drawing_from_svg(svg(RECT.format(""))))
    return at_the_bench(
        drawing_svg(brought_back(drawing_from_svg(original), drawing_from_svg(text)))
    )


READERS = {
    "bench": (at_the_bench, 5e-4),
    "sheets": (for_sheets, 5e-4),
    "film": (on_film, 0.02),
    "print": (in_print, 0.01),
    "given back": (given_back, 5e-4),
}

INCH = 25.4 / 96
CASES = {
    "a rectangle": (RECT.format(""), MM, 600),
    "rounded corners": (RECT.format(' rx="8"'), MM, 600 - (4 - math.pi) * 64),
    "corners rounded one way": (RECT.format(' ry="8"'), MM, 600 - (4 - math.pi) * 64),
    "oval corners": (RECT.format(' rx="4" ry="8"'), MM, 600 - (4 - math.pi) * 32),
    "corners as round as can be": (RECT.format(' rx="90"'), MM, math.pi * 150),
    "an ellipse": ('<ellipse cx="20" cy="15" rx="12" ry="8"/>', MM, math.pi * 96),
    "a circle": ('<circle cx="20" cy="15" r="10"/>', MM, math.pi * 100),
    "a class without fill": (
        "<style>.k{fill:none}</style>" + RECT.format(' class="k"') + SMALL, MM, 100,
    ),
    "a class of one kind within another": (
        "<style>g.off > rect, .no rect.k {fill:none}</style>"
        f'<g class="off">{RECT.format("")}</g><g class="no"><g>'
        + RECT.format(' class="k"') + "</g></g>" + SMALL, MM, 100,
    ),
    "a rule over an attribute, a style over a rule": (
        "<style>rect{fill:none} #b{fill:#000 !important}</style>"
        + RECT.format(' fill="#000"')
        + '<rect width="5" height="5" style="fill:#000"/>'
        + '<rect id="b" x="10" width="5" height="5" style="fill:none"/>', MM, 50,
    ),
    "hidden": (RECT.format(' visibility="hidden"') + SMALL, MM, 100),
    "hidden by a group, shown again": (
        f'<g visibility="hidden">{RECT.format("")}'
        '<g style="visibility:visible"><rect width="10" height="10"/></g></g>', MM, 100,
    ),
    "not displayed": (f'<g style="display:none">{RECT.format("")}</g>{SMALL}', MM, 100),
    "wholly transparent": (f'<g opacity="0">{RECT.format("")}</g>{SMALL}', MM, 100),
    "a transparent fill, inherited": (
        f'<g fill-opacity="0%">{RECT.format("")}</g>{SMALL}', MM, 100,
    ),
    "used": (
        '<defs><rect id="r" width="10" height="5"/></defs>'
        '<use href="#r" x="3" y="3"/><use xlink:href="#r" transform="translate(20 20)"/>', MM, 100,
    ),
    "a symbol": (
        '<symbol id="s" viewBox="0 0 4 3"><rect width="2" height="1"/></symbol>'
        '<use href="#s" x="10" width="20" height="15"/>', MM, 50,
    ),
    "an inner page, used larger": (
        '<defs><svg id="s" viewBox="0 0 4 3" width="4" height="3"><rect width="2" height="1"/>'
        '</svg></defs><use href="#s" x="10" width="20" height="15"/>', MM, 50,
    ),
    "a name that two share": (
        '<rect id="s" width="10" height="5"/><rect id="s" y="9" width="5" height="5"/>'
        '<use href="#s" y="20"/>', MM, 125,
    ),
    "shown to nobody": (f'<g requiredExtensions="urn:x">{RECT.format("")}</g>{SMALL}', MM, 100),
    "a style of another kind": (
        '<style type="text/less">rect{fill:none}</style>' + SMALL, MM, 100,
    ),
    "no path": ('<path d="none"/>' + SMALL, MM, 100),
    "an inner page": (
        '<svg x="10" width="20" height="15" viewBox="0 0 4 3"><rect width="2" height="1"/></svg>',
        MM, 50,
    ),
    "a switch": (
        '<switch><rect requiredExtensions="urn:x" width="20" height="20"/>'
        f'<g>{SMALL}</g>{RECT.format("")}</switch>', MM, 100,
    ),
    "a polyline": ('<polyline points="5,5 35,5 35,25 5,25"/>', MM, 600),
    "a polygon": ('<polygon points="5 5 35 5 35 25"/>', MM, 300),
    "arcs": ('<path d="M10 15a10 10 0 1 1 20 0a10 10 0 0 1-20 0z"/>', MM, math.pi * 100),
    "a turned arc whose radii are too short": (
        '<path d="M10 15A1 1 30 0 1 30 15Z"/>', MM, math.pi * 50,
    ),
    "smooth curves": (
        '<path d="M0 10C0 20 10 20 10 10S20 0 20 10M20 20q5 10 10 0t10 0"/>', MM,
        2 * 60 + 2 * 2 / 3 * 10 * 5,
    ),
    "relative after an open ring": ('<path d="m5 5h10v10h-10m20 0h5v5h-5z"/>', MM, 125),
    "rings that run alike": ('<path d="M5 5H35V25H5ZM10 10H20V20H10Z"/>', MM, 600),
    "rings filled even-odd": (
        '<path fill-rule="evenodd" d="M5 5H35V25H5ZM10 10H20V20H10Z"/>', MM, 500,
    ),
    "rings that cross": ('<path d="M5 5H20V20H5ZM15 15H30V25H15Z"/>', MM, 225 + 150 - 25),
    "shapes that overlap": (f'{SMALL}<rect x="15" y="15" width="10" height="10"/>', MM, 175),
    "a shape upon another": (RECT.format("") + SMALL, MM, 600),
    "millimetres inside": ('<rect width="10mm" height="15mm"/>', 'width="40mm" height="30mm"', 150),
    "px with a viewBox": (
        '<rect x="50" y="50" width="300" height="200"/>',
        'width="400px" height="300px" viewBox="0 0 400 300"', 60_000 * INCH**2,
    ),
    "px of another unit": (
        '<rect x="5" y="5" width="30" height="20"/>',
        'width="400px" height="300px" viewBox="0 0 40 30"', 60_000 * INCH**2,
    ),
    "no unit with a viewBox": (
        '<rect x="50" y="50" width="300" height="200"/>',
        'width="400" height="300" viewBox="0 0 400 300"', 60_000 * INCH**2,
    ),
    "no viewBox": (
        '<rect x="50" y="50" width="60" height="20"/>', 'width="40mm" height="30mm"',
        1200 * INCH**2,
    ),
    "inches": (
        '<rect width="50" height="50"/>', 'width="1in" height="1in" viewBox="0 0 100 100"',
        25.4**2 / 4,
    ),
    "a window elsewhere": (
        '<rect x="-20" y="-10" width="10" height="10"/>',
        'width="40mm" height="30mm" viewBox="-30 -20 80 60"', 25,
    ),
}  # fmt: skip


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("case", CASES)
def test_all_readers_see_the_same_area(case, reader):
    body, head, area = CASES[case]
    read, tolerance = READERS[reader]
    assert read(svg(body, head)) == pytest.approx(area, rel=tolerance)


@pytest.mark.parametrize(
    ("body", "head", "said"),
    [
        ('<rect width="96" height="96"/>', 'width="400px" height="300px" viewBox="0 0 400 300"',
         "its page is 105.8 by 79.4 mm"),
        ('<rect width="9" height="9"/>', 'viewBox="0 0 40 30"', "taken as 1 mm"),
        (SMALL + '<path d="M0 0H9" fill="none" stroke="#000"/><line x2="9" stroke="red"/>', MM,
         "2 strokes without a fill left out"),
        (RECT.format(' stroke="#000"'), MM, "1 filled shape with a stroke too"),
        ("<style>rect:hover{fill:none} rect[x]{fill:none}</style>" + SMALL, MM,
         "not followed (rect:hover, rect[x])"),
        ('<style media="print">rect{fill:none}</style>' + SMALL, MM, "not followed (@print)"),
        ('<style>rect{width:9px}</style>' + SMALL, MM, "whose size or outline a style sheet tells"),
        ('<rect width="9" height="9" fill="var(--a)"/>', MM, "a colour that is not known here"),
        ('<g systemLanguage="xx">' + SMALL + "</g>" + SMALL, MM, "in some languages"),
        ('<switch><g systemLanguage="xx"/>' + SMALL + "</switch>", MM, "in some languages"),
        ("<style>@media print{rect{fill:none}}</style>" + SMALL, MM, "not followed (@)"),
    ],
)  # fmt: skip
def test_what_is_taken_for_granted_or_left_out_is_said_by_all(body, head, said):
    text = svg(body, head)
    assert any(said in notice for notice in read_filled(text).notices)
    assert read_drawing_svg(text)[1] == read_filled(text).notices


@pytest.mark.parametrize(
    ("body", "head", "said"),
    [
        ('<text x="3" y="4">A</text>' + SMALL, MM, "1 <text>.*text into outlines"),
        ('<image href="x.png"/>' + SMALL, MM, "1 <image>.*cannot be cut"),
        ('<path d="M0 0H10" fill="none" stroke="#000"/>', MM, "strokes into outlines"),
        ("", MM, "no closed shape"),
        ('<use href="#gone"/>', MM, "not in it"),
        ('<use href="else.svg#a"/>', MM, "not in it"),
        ('<g id="a"><use href="#a"/></g>', MM, "inside itself"),
        ('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>', MM, "inside itself"),
        ('<clipPath id="c"/><g clip-path="url(#c)">' + SMALL + "</g>", MM, "apply the clip"),
        ('<style>rect{mask:url(#m)}</style>' + SMALL, MM, "apply the clip"),
        ('<rect width="9" height="9" style="clip-path:circle(3px)"/>', MM, "apply the clip"),
        ('<style>rect{mask-image:url(#m)}</style>' + SMALL, MM, "apply the clip"),
        ('<g style="transform:scale(2)">' + SMALL + "</g>", MM, "moves a <g> by 'transform'"),
        ('<g transform="rotate(9)" transform-origin="3 4">' + SMALL + "</g>", MM, "-origin'"),
        ('<style>@import "x.css";</style>' + SMALL, MM, "another file"),
        ('<rect width="3em" height="3"/>', MM, "without a unit"),
        ('<rect width="3" height="3" transform="fold(3)"/>', MM, "not known"),
        ('<path d="M0 0 Lx"/>', MM, "cannot be read"),
        ('<path d="L9 9 9 0"/>', MM, "begins with no M"),
        ('<path d="M0 0h9v1e999z"/>', MM, "not finite"),
        ('<path d="M0 0H1e9V9z"/>', MM, "mm away"),
        ('<path d="M0 0H1e308V9z"/>', MM, "not finite|mm away"),
        ('<path d="M0 0C1e308 1e308 9e307 3 10 4z"/>', MM, "not finite|mm away"),
        ('<circle cx="1e308" r="1e308"/>', MM, "not finite|mm away"),
        ('<g transform="scale(1e200)"><path d="M0 0H1e200V9z"/></g>', MM, "not finite"),
        ('<path d="M0 0A9 9 0 2 0 9 9"/>', MM, "cannot be read"),
        ('<polygon points="0 0 9 9 9"/>', MM, "points of a polygon"),
        (SMALL, 'width="0mm" height="30mm" viewBox="0 0 4 3"', "not more than 0"),
        (SMALL, 'width="20em" height="30mm" viewBox="0 0 4 3"', "give it in mm"),
        (SMALL, "", "scale is unknown"),
        ("<g>" * 300 + SMALL + "</g>" * 300, MM, "nested deeper"),
    ],
)  # fmt: skip
@pytest.mark.parametrize(
    ("read", "error"), [(drawing_from_svg, DrawingError), (read_filled, OutlineError)]
)
def test_what_cannot_be_read_is_refused_by_all(read, error, body, head, said):
    with pytest.raises(error, match=said):
        read(svg(body, head))


def test_what_unfolds_without_end_is_refused():
    groups = "".join(
        f'<g id="g{n}">{f"""<use href="#g{n + 1}"/>""" * 10}</g>' for n in range(1, 12)
    )
    with pytest.raises(DrawingError, match="split it"):
        drawing_from_svg(svg(f'<defs>{groups}<g id="g12"/></defs><use href="#g1"/>{SMALL}'))


def test_percentages_are_of_the_page_around_them():
    body = (
        '<rect width="50%" height="10%"/>'
        '<svg x="20" y="10" width="50%" height="20" viewBox="0 0 10 10"><circle r="10%"/></svg>'
    )
    whole = 20 * 3 + math.pi * (0.1 * 10 * 2) ** 2
    text = svg(body)
    assert at_the_bench(text) == pytest.approx(whole, rel=1e-3)
    assert for_sheets(text) == pytest.approx(whole, rel=1e-3)


def test_what_stands_beside_the_ornament_is_no_part_of_it():
    aside = "".join(
        f'<g data-role="{role}"><text>words</text>{RECT.format("")}</g>'
        for role in ("evidence", "photograph", "label")
    )
    (shape,) = read_svg(svg(aside + SMALL)).shapes
    assert shape.element == "rect"


def test_a_shape_knows_its_layer_its_classes_and_its_evidence():
    body = (
        '<g id="layer-red%20gold"><g data-layer="gilt">'
        '<path class="a b" data-evidence="seen:here*3" d="M0 0H9V9Z"/></g></g>'
    )
    (shape,) = read_svg(svg(body)).shapes
    assert (shape.layer, shape.group) == ("gilt", "red gold")
    assert (shape.classes, shape.evidence) == (("a", "b"), "seen:here*3")


def test_a_hundred_thousand_points_are_read():
    turn = np.linspace(0, 2 * np.pi, 100_000, endpoint=False)
    points = " ".join(f"{20 + 9 * np.cos(t):.5f},{15 + 9 * np.sin(t):.5f}" for t in turn)
    (shape,) = read_svg(svg(f'<polygon points="{points}"/>')).shapes
    assert shape.rings[0].shape == (100_000, 4, 2)
