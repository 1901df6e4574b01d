"""The faces: at hand with their licences, and cut to what a site needs."""

from io import BytesIO

import pytest
from fontTools.ttLib import TTFont

from ironlace.dossier.faces import FACES, IN_SITE, font_files, subset, write_for_site

SIGNS = "AZaz09·°×±½–—“”…"


@pytest.mark.parametrize("face", FACES, ids=lambda face: face.file)
def test_every_face_is_at_hand_and_shows_the_records_own_signs(face):
    with TTFont(face.path) as font:
        assert not [sign for sign in SIGNS if ord(sign) not in font.getBestCmap()]
        assert font["OS/2"].usWeightClass == face.weight
        assert (font["post"].italicAngle != 0) == (face.style == "italic")
        names = font["name"]
        assert face.family in {str(names.getDebugName(number)) for number in (1, 16)}


def test_a_subset_holds_the_signs_of_the_text_under_a_name_of_ours():
    face = FACES[0]
    made = subset(face, "Škoda ⟨漢⟩")
    with TTFont(BytesIO(made)) as font:
        assert font.flavor == "woff"
        shown = font.getBestCmap()
        assert all(ord(sign) in shown for sign in SIGNS + "Š")
        assert ord("漢") not in shown and ord("ж") not in shown
        names = {entry.nameID: str(entry) for entry in font["name"].names}
        assert names[1] == IN_SITE[face.family] == font["CFF "].cff.topDictIndex[0].FamilyName
        # the licence reserves the name 'Source' for the whole; it and the copyright stay told
        assert not [n for n in (1, 3, 4, 6, 16) if "Source" in names.get(n, "")]
        assert "Open Font License" in names[13] and "Adobe Systems" in names[0]
        tags = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
        assert {"smcp", "onum", "lnum", "tnum"} <= tags
    assert len(made) < 40_000 < face.path.stat().st_size
    assert subset(face, "Škoda ⟨漢⟩") == made


def test_only_families_that_the_style_names_are_written(tmp_path):
    rules = write_for_site(tmp_path, 'body { font-family: "Ironlace Sans", serif; }', ["Words"])
    assert sorted(path.name for path in (tmp_path / "fonts").iterdir()) == [
        "ironlace-sans-licence.txt",
        "sans-regular.woff",
        "sans-semibold.woff",
    ]
    assert rules.count("@font-face") == 2 and 'url("fonts/sans-regular.woff")' in rules
    assert "SIL OPEN FONT LICENSE" in (tmp_path / "fonts/ironlace-sans-licence.txt").read_text()
    assert write_for_site(tmp_path / "none", "body { font-family: serif; }", ["Words"]) == ""


def test_what_is_typeset_and_plotted_is_the_same():
    assert [path.name for path in font_files()] == [face.file for face in FACES]
