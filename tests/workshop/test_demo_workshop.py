import shutil

import pytest

from ironlace.evidence.errors import ConflictError
from ironlace.record import DrawingEntry, FindingEntry, Mark, Photograph, ReportEntry, job_of
from ironlace.record.job import DATE_FINDING, StepProgress
from ironlace.workshop import Workshop
from ironlace.workshop.demo_workshop import make_demo
from ironlace.workshop.store.check import check_workshop

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return make_demo(tmp_path_factory.mktemp("demo") / "workshop")


def test_the_demo_is_a_sound_workshop_with_the_job_far_along(demo):
    with Workshop.open(demo.folder) as workshop:
        assert check_workshop(workshop).wrong == ()
        record = workshop.records.read(demo.slug)
        steps, _ = job_of(record)
        assert all(step.progress is not StepProgress.OPEN for step in steps)
        assert len(list(record.of(Photograph))) >= 6
        assert len(list(record.of(ReportEntry))) == 12


def test_its_number_is_dated_from_the_reports(demo):
    with Workshop.open(demo.folder) as workshop:
        record = workshop.records.read(demo.slug)
        found = next(f for _, f in record.of(FindingEntry) if f.finding.about == DATE_FINDING)
        serial = next(mark for _, mark in record.of(Mark))
    assert "94" in serial.reads
    assert str(found.finding.value).startswith("1894")


def test_its_ornament_is_drawn_and_its_pack_made(demo):
    with Workshop.open(demo.folder) as workshop:
        (drawing,) = [entry for _, entry in workshop.records.read(demo.slug).of(DrawingEntry)]
    assert 176 < drawing.width_mm < 179  # 177 mm over the border
    for name in ("dossier-a4.pdf", "dossier-letter.pdf"):
        assert (demo.pack / name).read_bytes().startswith(b"%PDF")
    assert (demo.pack / "site" / "index.html").is_file()
    assert list((demo.pack / "sheets").glob("*-a4.pdf"))


def test_the_record_grew_over_weeks(demo):
    with Workshop.open(demo.folder) as workshop:
        moments = [change.made_at for change in workshop.records.changes(demo.slug)]
        middle = moments[0] + (moments[-1] - moments[0]) / 2
        then = workshop.records.read(demo.slug, middle)
        assert 0 < len(then.entries) < len(workshop.records.read(demo.slug).entries)


def test_opening_it_again_keeps_what_was_changed_and_mends_the_pack(demo):
    with Workshop.open(demo.folder) as workshop:
        before = workshop.records.changes(demo.slug)
    shutil.rmtree(demo.pack)
    again = make_demo(demo.folder)
    assert (again.pack / "dossier-a4.pdf").is_file()
    with Workshop.open(demo.folder) as workshop:
        assert workshop.records.changes(demo.slug) == before


def test_nothing_but_a_demo_is_thrown_away(tmp_path):
    Workshop.create(tmp_path / "mine").close()
    with pytest.raises(ConflictError, match="not the demo"):
        make_demo(tmp_path / "mine", fresh=True)
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.txt").touch()
    with pytest.raises(ConflictError, match="not empty"):
        make_demo(tmp_path / "other")
    assert (tmp_path / "mine" / "ironlace.sqlite").exists()
