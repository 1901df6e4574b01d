"""What the command's files and options ask of a trace."""

import json

import pytest
from PIL import Image

from ironlace.cli.trace_files import asked_of_files, photographs_of_files
from ironlace.evidence.errors import IronlaceError

LENS = {"matrix": [[900.0, 0, 320.0], [0, 900.0, 240.0], [0, 0, 1]], "distortion": []}


@pytest.fixture
def pictures(tmp_path):
    """Three photographs, each with a focal length of its own in its Exif."""
    files = []
    for n, name in enumerate(("a.jpg", "b.jpg", "c.jpg")):
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0xA405] = 28 + 10 * n
        Image.new("RGB", (640, 480), "grey").save(tmp_path / name, exif=exif)
        files.append(tmp_path / name)
    return files


@pytest.fixture
def lenses(tmp_path):
    files = []
    for n in range(3):
        file = tmp_path / f"lens{n}.json"
        file.write_text(json.dumps({**LENS, "distortion": [0.1 * n]}), encoding="utf-8")
        files.append(file)
    return files


@pytest.fixture
def write(tmp_path):
    def written(asked):
        file = tmp_path / "asked.json"
        file.write_text(asked if isinstance(asked, str) else json.dumps(asked), encoding="utf-8")
        return file

    return written


def test_each_photograph_has_the_focal_length_of_its_own_exif(pictures):
    given = photographs_of_files(pictures).photographs
    assert [photo.focal_35mm for photo in given] == [28, 38, 48]
    assert [photo.name for photo in given] == ["a.jpg", "b.jpg", "c.jpg"]
    assert given[1].picture().shape == (480, 640, 3)


def test_three_lenses_are_one_each_and_one_is_for_all(pictures, lenses):
    each = asked_of_files(pictures, lenses=lenses)
    assert [each.lens_of(n).distortion[0] for n in range(3)] == [0.0, 0.1, 0.2]
    one = asked_of_files(pictures, lenses=lenses[1:2])
    assert [one.lens_of(n).distortion[0] for n in range(3)] == [0.1, 0.1, 0.1]
    none = asked_of_files(pictures)
    assert [none.lens_of(n) for n in range(3)] == [None, None, None]


def test_any_other_number_of_lenses_is_refused(pictures, lenses):
    with pytest.raises(IronlaceError, match="2 lenses were given for 3 photographs: give one"):
        asked_of_files(pictures, lenses=lenses[:2])


def test_options_go_before_what_the_file_says(pictures, write):
    file = write({"strip": "wrap", "mirror": True, "gilt": [[3, 4]]})
    asked = asked_of_files(pictures[:1], file, strip="corner", mirror=None)
    assert (asked.strip, asked.mirror, asked.gilt) == ("corner", True, ((3.0, 4.0),))


def test_the_file_says_what_a_further_photograph_shows(pictures, write):
    others = [{"photograph": "c.jpg", "shows": "example", "called": "the mill's"}]
    asked = asked_of_files(pictures, write({"others": others}))
    assert [(o.photograph, o.shows, o.label) for o in asked.others] == [
        ("b.jpg", "unsaid", "b.jpg"),
        ("c.jpg", "example", "the mill's"),
    ]


def test_two_files_of_one_name_are_told_apart(pictures, tmp_path):
    (tmp_path / "other").mkdir()
    twin = tmp_path / "other" / "a.jpg"
    twin.write_bytes(pictures[0].read_bytes())
    asked = asked_of_files([pictures[0], twin])
    assert asked.photograph == str(pictures[0])
    assert asked.others[0].photograph == str(twin)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("{", "is not JSON"),
        ("[1]", "holds no JSON object"),
        ({"ribbon": 3}, "'ribbon' is not asked for here"),
        ({"others": [{"photograph": "z.jpg"}]}, "no further photograph given here"),
        ({"axis": [[1, 2]]}, "axis needs two places"),
        ({"how": "scan"}, "say its dpi"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_in_a_sentence(pictures, write, asked, says):
    with pytest.raises(IronlaceError, match=says) as caught:
        asked_of_files(pictures[:1], write(asked))
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_measured_places_are_one_file_for_each_photograph(pictures, tmp_path):
    files = []
    for n in range(3):
        file = tmp_path / f"places{n}.csv"
        rows = "\n".join(f"{100 * k},{n + 50 * (k % 2)},{10 * k},{5 * (k % 2)}" for k in range(5))
        file.write_text(f"x_px,y_px,x_mm,y_mm\n{rows}\n", encoding="utf-8")
        files.append(file)
    asked = asked_of_files(pictures, places=files)
    assert asked.how == "points"
    assert [asked.measured_in(n)[2] for n in range(3)] == [(200, n, 20, 0) for n in range(3)]
    with pytest.raises(IronlaceError, match="2 files of measured places were given for 3"):
        asked_of_files(pictures, places=files[:2])
