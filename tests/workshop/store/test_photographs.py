import shutil

import pytest
from PIL import Image

from ironlace.evidence.errors import NotFoundError
from ironlace.record import PhotographRole
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.store.intake import IntakeError
from ironlace.workshop.store.originals import TooLargeError, sha256_of

ROLE = PhotographRole.AS_FOUND


def test_an_original_is_kept_byte_for_byte(workshop, slug, picture):
    path = picture()
    taken = workshop.photographs.take_in_file(slug, path, ROLE, "left side")
    original = workshop.photographs.original(taken.sha256)
    assert original.path.read_bytes() == path.read_bytes()
    assert sha256_of(original.path) == taken.sha256
    assert workshop.records.read(slug).named(taken.name).caption == "left side"


def test_the_same_picture_is_recognised(workshop, slug, picture):
    first = workshop.photographs.take_in_file(slug, picture("a.jpg"), ROLE)
    again = workshop.photographs.take_in_file(slug, picture("b.jpg"), ROLE)
    assert again.again
    assert again.name == first.name
    assert len(list(workshop.store.files())) == 1


def test_the_same_picture_may_be_in_two_records_and_is_kept_once(workshop, slug, picture):
    other = workshop.records.create("Another")
    workshop.photographs.take_in_file(slug, picture(), ROLE)
    assert not workshop.photographs.take_in_file(other, picture(), ROLE).again
    assert len(list(workshop.store.files())) == 1


@pytest.mark.parametrize("name", ["broken.jpg", "text.jpg"])
def test_nothing_is_kept_of_what_is_refused(workshop, slug, picture, name):
    path = picture(name)
    path.write_bytes(path.read_bytes()[:300] if name == "broken.jpg" else b"a note\n" * 30)
    with pytest.raises(IntakeError):
        workshop.photographs.take_in_file(slug, path, ROLE)
    assert list(workshop.store.files()) == []
    assert list(workshop.store.incoming.iterdir()) == []
    assert workshop.records.read(slug).entries == {}
    assert check_workshop(workshop).sound


def test_a_file_over_the_limit_is_refused(workshop, slug, picture):
    with pytest.raises(TooLargeError):
        workshop.photographs.take_in_file(slug, picture(), ROLE, limit=1000)
    assert list(workshop.store.incoming.iterdir()) == []


def test_no_photograph_for_a_machine_that_is_not_there(workshop, picture):
    with pytest.raises(NotFoundError):
        workshop.photographs.take_in_file("nothing", picture(), ROLE)
    assert list(workshop.store.files()) == []


def test_views_are_made_again_when_thrown_away(workshop, slug, picture):
    taken = workshop.photographs.take_in_file(slug, picture(size=(1000, 500)), ROLE)
    view = workshop.photographs.view(taken.sha256, 320)
    shutil.rmtree(workshop.derived)
    again = workshop.photographs.view(taken.sha256, 320)
    assert again == view
    with Image.open(again) as shown:
        assert shown.size == (320, 160)


def test_an_original_can_be_read_only(workshop, slug, picture):
    taken = workshop.photographs.take_in_file(slug, picture(), ROLE)
    mode = workshop.photographs.original(taken.sha256).path.stat().st_mode
    assert not mode & 0o222
