"""The film notes as files: what may be told, each thing with its grade, whole or not at all."""

import json
from xml.etree import ElementTree

import pytest

from ironlace.dossier.errors import FolderTakenError
from ironlace.dossier.film.captions import read_chapters
from ironlace.dossier.film.files import film_files, film_of, title_svg, write_film
from ironlace.dossier.film.scenes import Said, running_order
from ironlace.dossier.privacy import public_copy
from ironlace.evidence.grades import Grade

TYPED = "0:00 machine\n1:00 marks: Its number\n2:00 end"


@pytest.fixture
def film(full_record):
    told, _ = public_copy(full_record)
    return film_of(told, read_chapters(TYPED, running_order(told)), "9.9")


def test_the_description_gives_grades_chapters_sources_rights_and_the_call(film, made):
    told = film_files(film, made)["description.txt"]
    assert "0:00 The machine\n1:00 Its number\n" in told
    assert "Price list of the Calder Vane Works" in told
    assert "may be copied with this account" in told and "rights not said" in told
    assert "Have you one like it?" in told and "What does the L stand for?" in told
    for grade in Grade:
        assert f"{grade.value}, {grade.meaning}" in told
    assert "as it stood on 2026-03-01, kept with Ironlace 9.9." in told


def test_captions_come_with_chapters_only(film, full_record, made):
    assert {"captions.vtt", "chapters.vtt"} <= film_files(film, made).keys()
    told, _ = public_copy(full_record)
    without = film_files(film_of(told, read_chapters("", ()), "9.9"), made)
    assert not {"captions.vtt", "chapters.vtt"} & without.keys()


def test_each_title_is_a_picture_that_carries_its_grade(film, made):
    files = {name: text for name, text in film_files(film, made).items() if "titles/" in name}
    assert len(files) == sum(one.grade is not None for s in film.scenes for one in s.said)
    for text in files.values():
        texts = [
            one.text for one in ElementTree.fromstring(text).iter() if one.tag.endswith("text")
        ]
        assert texts[-1] in {grade.value for grade in Grade}
    odd = title_svg(Said("a <b> & \x07 c " * 40, Grade.INFERRED, "mark 1"))
    assert ElementTree.fromstring(odd).get("width") == "1920"
    assert 'stroke-dasharray="' in odd


def test_no_secret_is_in_the_notes(film, made, secret):
    assert secret not in json.dumps(film_files(film, made), ensure_ascii=False)


def test_they_are_written_whole_and_over_nothing_else(film, made, tmp_path):
    for _ in range(2):
        write_film(film, tmp_path / "film", made)
    assert json.loads((tmp_path / "film" / "film.json").read_text("utf-8"))["end_s"] == 120.0
    (tmp_path / "film" / "cut.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(FolderTakenError):
        write_film(film, tmp_path / "film", made)
    assert (tmp_path / "film" / "cut.txt").read_text(encoding="utf-8") == "mine"
