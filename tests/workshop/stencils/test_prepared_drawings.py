"""Drawings looked at for stencils, kept in derived/."""

import pytest
from shapely import equals_exact

from ironlace.ornament.stencils import known_process, plan_sheets, prepare, process_toml
from ironlace.workshop.stencils import prepared_drawings
from ironlace.workshop.stencils.prepared_drawings import packed, prepared_drawing, unpacked

D = "M5 5h30v20h-30z M8 8h24v14h-24z M10 10h20v4.5h-20z M10 15h20v5h-20z"
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">'
    f'<path fill-rule="evenodd" fill="#b89040" d="{D}"/></svg>'
)
TIPS = SVG.replace(D, f"{D} M1 27.5l3-1.2 3 1.2-3 1.2z M7.3 27.5l3-1.2 3 1.2-3 1.2z")
"""With two leaves that face each other tip to tip, 0.3 mm apart."""
PROCESS = known_process("film-laser")


@pytest.mark.parametrize(("svg", "tips"), [(SVG, 0), (TIPS, 1)])
@pytest.mark.parametrize("hold", ["bridges", "split"])
def test_what_is_kept_plans_the_very_same_sheets(hold, svg, tips):
    made = prepare(svg, PROCESS, hold)
    assert made.layers[0].falling.webs
    assert sum(web.between_tips for web in made.layers[0].falling.webs) == tips
    again = unpacked(packed(made))
    one, two = (plan_sheets(svg, PROCESS, hold, prepared=p) for p in (made, again))
    assert one.report == two.report
    assert [s.svg() for s in one.sheets] == [s.svg() for s in two.sheets]
    for a, b in zip(made.layers[0].falling.webs, again.layers[0].falling.webs, strict=True):
        assert equals_exact(a.shape, b.shape)
        assert (a.rungs == b.rungs).all()
        assert (a.sides == b.sides).all()
        assert (a.width_mm, a.length_mm) == (b.width_mm, b.length_mm)
        assert a.between_tips == b.between_tips


def test_a_drawing_with_nothing_wrong_is_kept_too():
    plain = SVG.replace(D, "M5 5h30v20h-30z")
    again = unpacked(packed(prepare(plain, PROCESS, "bridges")))
    assert again.layers[0].falling.webs == ()
    assert again.layers[0].falling.islands == ()


def test_it_is_made_once_and_again_when_thrown_away_or_spoilt(workshop, monkeypatch):
    made = []
    looked_at = prepare(SVG, PROCESS, "bridges")

    def counted(*args, **kwargs):
        made.append(args)
        return looked_at

    monkeypatch.setattr(prepared_drawings, "prepare", counted)
    text = process_toml(PROCESS)
    for _ in range(2):
        prepared_drawing(workshop, SVG, text, "bridges", None)
    assert len(made) == 1
    (file,) = (workshop.derived / "prepared").rglob("*.npz")
    for spoil in (file.unlink, lambda: file.write_bytes(b"PK nothing")):
        spoil()
        prepared_drawing(workshop, SVG, text, "bridges", None)
    assert len(made) == 3
    # another process, another file
    prepared_drawing(workshop, SVG, process_toml(known_process("film-knife")), "bridges", None)
    assert len(made) == 4
    # one that was cut short
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2])
    prepared_drawing(workshop, SVG, text, "bridges", None)
    assert len(made) == 5
