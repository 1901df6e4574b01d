"""What every page brings along: its style, its faces."""

import re

from ironlace.dossier.faces import FACES
from ironlace.web.rendering import static


def test_faces_are_served_as_fonts_to_be_kept_for_ever(person):
    for face in FACES:
        answer = person.get(static(face.file))
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "font/otf"
        assert "immutable" in answer.headers["cache-control"]
        assert answer.content == face.path.read_bytes()


def test_a_page_fetches_its_faces_ahead_and_lets_them_in(person):
    page = person.get("/")
    ahead = re.findall(
        r'<link rel="preload" href="([^"]+)" as="font" type="font/otf" crossorigin>', page.text
    )
    assert ahead == [static(face.file) for face in FACES]
    assert "font-src 'self'" in page.headers["content-security-policy"]


def test_the_style_names_only_files_of_the_bench(person):
    style = person.get(static("bench.css")).text
    named = re.findall(r"url\(([^)]*)\)", style)
    assert {f'"{face.file}"' for face in FACES} <= set(named)
    for address in named:
        assert person.get(static(address.strip('"'))).status_code == 200
    assert style.count("font-display: optional") == len(FACES)
    assert "http" not in style
