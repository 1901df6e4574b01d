"""What is sent twice is kept once, and answered alike."""

import threading
from io import BytesIO

import pytest
from PIL import Image

from ironlace.evidence.errors import ConflictError
from ironlace.record import EntryKind, PhotographRole, parse_entry
from ironlace.workshop import Workshop
from ironlace.workshop.store.receipts import Sending, keep_once, names_sent

KEY = "a" * 32


def always():
    return None


def question(asks="Who made it?"):
    return parse_entry({"kind": "question", "asks": asks})


def kept(workshop, slug, entry, key=KEY, still=always):
    return keep_once(workshop.database, workshop.records, slug, entry, Sending(key, still), "me")


def photograph(workshop, slug, colour, key=KEY, still=always):
    out = BytesIO()
    Image.new("RGB", (8, 8), colour).save(out, "PNG")
    with workshop.store.receive(100_000, "a.png") as receiving:
        receiving.write(out.getvalue())
        return workshop.photographs.take_in(
            slug,
            receiving.whole(),
            "a.png",
            PhotographRole.UNSAID,
            sending=Sending(key, still),
        )


def test_an_entry_sent_again_is_answered_as_the_first_time(workshop, slug):
    first = kept(workshop, slug, question())
    workshop.records.change(slug, first.entry, None)  # withdrawn meanwhile: it does not come back
    assert kept(workshop, slug, question()) == first
    assert workshop.records.read(slug).count(EntryKind.QUESTION) == 0
    assert kept(workshop, slug, question(), key="b" * 32).entry == "question 2"


def test_a_photograph_sent_again_is_answered_as_the_first_time(workshop, slug):
    first = photograph(workshop, slug, "red")
    workshop.records.change(slug, first.name, None)
    assert photograph(workshop, slug, "red") == first
    assert workshop.records.read(slug).count(EntryKind.PHOTOGRAPH) == 0
    other = photograph(workshop, slug, "blue", key="b" * 32)
    twice = photograph(workshop, slug, "blue", key="c" * 32)
    assert (other.again, twice.again, twice.name) == (False, True, other.name)
    assert photograph(workshop, slug, "blue", key="c" * 32) == twice


def test_one_key_for_two_things_is_refused(workshop, slug):
    kept(workshop, slug, question())
    other = workshop.records.create("Another")
    for where, entry in ((slug, question("When?")), (other, question())):
        with pytest.raises(ConflictError, match="Something else was sent"):
            kept(workshop, where, entry)
    photograph(workshop, slug, "red", key="b" * 32)
    with pytest.raises(ConflictError, match="Something else was sent"):
        photograph(workshop, slug, "blue", key="b" * 32)
    assert workshop.records.read(slug).count(EntryKind.PHOTOGRAPH) == 1


def test_for_one_who_was_shown_out_nothing_is_kept(workshop, slug):
    class ShownOutError(Exception):
        pass

    def no_longer():
        raise ShownOutError

    with pytest.raises(ShownOutError):
        kept(workshop, slug, question(), still=no_longer)
    with pytest.raises(ShownOutError):
        photograph(workshop, slug, "red", still=no_longer)
    assert workshop.records.changes(slug) == []
    assert list(workshop.store.files()) == []
    assert names_sent(workshop.database, workshop.records, slug) == []


def test_many_at_the_same_moment_keep_one(workshop, slug):
    answers, together = [], threading.Barrier(6)

    def send():
        together.wait()
        answers.append(kept(workshop, slug, question()))

    threads = [threading.Thread(target=send) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 6
    assert len(set(answers)) == 1
    assert workshop.records.read(slug).count(EntryKind.QUESTION) == 1


def test_receipts_outlive_a_restart_and_tell_what_was_sent(workshop, slug):
    first = kept(workshop, slug, question())
    workshop.records.add(slug, question("By hand?"))
    with Workshop.open(workshop.folder) as again:
        assert kept(again, slug, question()) == first
        assert names_sent(again.database, again.records, slug) == ["question 1"]
