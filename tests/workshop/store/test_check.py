import sqlite3

import pytest

from ironlace.workshop.store.check import check_workshop


def first_original(workshop):
    path = next(workshop.store.files())
    path.chmod(0o644)
    return path


def test_a_sound_workshop_is_sound(filled):
    checked = check_workshop(filled)
    assert checked.sound
    assert (checked.originals, checked.changes, checked.entries) == (3, 4, 4)


def test_one_altered_byte_is_found(filled):
    path = first_original(filled)
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    assert "checksum differs" in check_workshop(filled).wrong[0]


def test_a_missing_original_is_found(filled):
    first_original(filled).unlink()
    assert "missing from the store" in check_workshop(filled).wrong[0]


def test_a_file_nobody_names_is_told_and_is_no_fault(filled):
    stray = filled.originals / "ab" / f"ab{'0' * 62}.jpg"
    stray.parent.mkdir(exist_ok=True)
    stray.write_bytes(b"left by a crash")
    checked = check_workshop(filled)
    assert checked.sound
    assert len(checked.left_over) == 1


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE entry SET entry = '{\"kind\":\"question\",\"asks\":\"x\"}' WHERE kind='question'",
         "does not stand as its history says"),
        ("DELETE FROM entry WHERE kind='question'", "does not stand as its history says"),
        ("DELETE FROM original", "names a file"),
        ("UPDATE change SET record_id = 99 WHERE number = 1", "points to a row"),
    ],
)  # fmt: skip
def test_a_database_tampered_with_is_found(filled, statement, says):
    with sqlite3.connect(filled.database.file) as raw:
        raw.execute(statement)
    raw.close()
    assert any(says in fault for fault in check_workshop(filled).wrong)


def test_a_reference_to_nothing_is_found(filled, slug):
    from ironlace.record import parse_entry

    entry = {"kind": "mark", "reads": "1", "where": "bed", "grade": "seen"}
    filled.records.add(slug, parse_entry(entry | {"photographs": ["photograph 1"]}))
    with sqlite3.connect(filled.database.file) as raw:
        raw.execute("UPDATE entry SET entry = replace(entry, 'photograph 1', 'photograph 99')")
    raw.close()
    assert any("photograph 99" in fault for fault in check_workshop(filled).wrong)


def test_an_entry_that_names_what_was_never_there_is_refused(filled, slug):
    from ironlace.record import parse_entry
    from ironlace.record.entries import EntryError

    entry = {"kind": "mark", "reads": "1", "where": "bed", "grade": "seen"}
    before = filled.records.changes(slug)
    with pytest.raises(EntryError, match="no photograph 99 in this record"):
        filled.records.add(slug, parse_entry(entry | {"photographs": ["photograph 99"]}))
    source = {"kind": "photograph", "entry": "photograph 98", "says": ""}
    with pytest.raises(EntryError, match="photograph 98"):
        filled.records.add(slug, parse_entry(entry | {"sources": [source]}))
    assert filled.records.changes(slug) == before


@pytest.mark.parametrize("title", ["The head\x00 of\x07 the mill", "The head of\u2028the mill"])
def test_a_title_holds_no_sign_that_no_pen_can_write(filled, title):
    slug = filled.records.create(title)
    assert filled.records.read(slug).title == "The head of the mill"
