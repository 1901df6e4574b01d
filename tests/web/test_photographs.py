"""Photographs: streamed, limited, recognised, refused."""

import re
import struct
import zlib

import pytest

from ironlace.record import EntryKind, Photograph

from .conftest import ADDRESS, Person, jpeg, words


def send(person, slug, *files, **fields):
    sent = [("files", file) for file in files]
    return person.post(f"/machine/{slug}/photographs", {"role": "as found", **fields}, files=sent)


def put(person, slug, body, came_as="a.jpg", **options):
    headers = {"x-ironlace-token": person.token, "accept": "application/json"}
    return person.client.put(
        f"/machine/{slug}/photographs/one",
        params={"came_as": came_as, "role": "mark", "caption": "The number"},
        content=body,
        headers=headers | options.pop("headers", {}),
    )


def bomb():
    """A PNG of 60,000 x 60,000 px in a few hundred bytes."""

    def chunk(kind, data):
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def nothing_left_over(bench):
    incoming = bench.workshop.folder / "incoming"
    assert not incoming.exists() or list(incoming.iterdir()) == []


def test_many_are_taken_in_at_once(person, slug, bench):
    page = send(person, slug, ("a.jpg", jpeg(1)), ("b.jpg", jpeg(2)), ("c.jpg", jpeg(3)))
    assert "Kept, 3 entries: photograph 1, photograph 2, photograph 3" in words(page)
    assert bench.records.read(slug).count(EntryKind.PHOTOGRAPH) == 3
    nothing_left_over(bench)


def test_a_script_sends_one_as_it_is(person, slug, bench):
    answer = put(person, slug, jpeg(1))
    assert answer.status_code == 200
    assert answer.json()["name"] == "photograph 1"
    assert answer.json()["again"] is False
    entry = bench.records.read(slug).named("photograph 1")
    assert (entry.role.value, entry.caption) == ("mark", "The number")
    nothing_left_over(bench)


def test_a_duplicate_is_recognised_and_told(person, slug, bench):
    send(person, slug, ("a.jpg", jpeg(1)))
    page = send(person, slug, ("again.jpg", jpeg(1)), ("b.jpg", jpeg(2)))
    assert page.status_code == 200
    assert "again.jpg was here already, as photograph 1; it was not taken in twice" in words(page)
    assert put(person, slug, jpeg(2)).json() | {"at": "", "view": ""} == {
        "name": "photograph 2",
        "again": True,
        "at": "",
        "view": "",
    }
    assert bench.records.read(slug).count(EntryKind.PHOTOGRAPH) == 2


@pytest.mark.parametrize(
    ("body", "status", "says"),
    [
        (b"just some text, renamed", 415, "is not a photograph"),
        (jpeg(1, (200, 200))[:-900], 415, "broken off or damaged"),
        (bomb(), 415, "million pixels"),
        (b"", 415, "is not a photograph"),
        (b"\xff" * 200_001, 413, "is larger than"),
    ],
    ids=["text", "truncated", "bomb", "empty", "large"],
)
def test_what_is_no_whole_photograph_is_refused_and_leaves_nothing(
    person, slug, bench, body, status, says
):
    alone = put(person, slug, body)
    assert alone.status_code == status
    assert says in alone.json()["error"]["says"]
    page = send(person, slug, ("good.jpg", jpeg(9)), ("bad.jpg", body))
    assert page.status_code == 422
    assert says in words(page)
    assert "good.jpg: kept as photograph 1" in words(page)
    assert bench.records.read(slug).count(EntryKind.PHOTOGRAPH) == 1
    nothing_left_over(bench)


def test_more_files_than_the_limit_are_told(person, slug, bench):
    page = send(person, slug, *((f"{i}.jpg", jpeg(i)) for i in range(7)))
    assert page.status_code == 422
    assert "More than 5 files came at once" in words(page)
    assert bench.records.read(slug).count(EntryKind.PHOTOGRAPH) == 5


def test_a_request_beyond_the_limit_is_cut_off(person, slug, bench):
    files = [(f"{i}.jpg", b"\xff" * 190_000) for i in range(5)]
    answer = send(person, slug, *files, ("6.jpg", b"\xff" * 190_000))
    assert answer.status_code == 413
    nothing_left_over(bench)


def test_no_file_at_all_is_told(person, slug):
    answer = send(person, slug, ("", b""))
    assert answer.status_code == 422
    assert "No file was chosen" in words(answer)


def test_a_broken_off_form_is_told_and_leaves_nothing(person, slug, bench):
    body = (
        f'--x\r\ncontent-disposition: form-data; name="token"\r\n\r\n{person.token}\r\n'
        '--x\r\ncontent-disposition: form-data; name="files"; filename="a.jpg"\r\n\r\n'
    ).encode() + jpeg(1)
    answer = person.client.post(
        f"/machine/{slug}/photographs",
        content=body,
        headers={"content-type": "multipart/form-data; boundary=x", "origin": ADDRESS},
    )
    assert answer.status_code == 400
    assert "broke off" in words(answer)
    assert bench.records.read(slug).count(EntryKind.PHOTOGRAPH) == 0
    nothing_left_over(bench)


def test_a_file_before_its_token_never_reaches_the_disk(app, person, slug, bench, monkeypatch):
    received = []
    monkeypatch.setattr(bench.workshop.store, "receive", lambda *a: received.append(a))
    other = Person(app)
    answer = other.client.post(
        f"/machine/{slug}/photographs", files={"files": ("a.jpg", jpeg(1))}, data={"token": "no"}
    )
    assert answer.status_code == 403
    assert received == []


def test_a_name_with_folders_in_it_is_only_a_name(person, slug, bench):
    send(person, slug, ("../../etc/secret.jpg", jpeg(1)))
    put(person, slug, jpeg(2), came_as="..\\..\\x.jpg")
    found = [bench.records.read(slug).named(f"photograph {n}").sha256 for n in (1, 2)]
    names = {bench.photographs.original(sha).came_as for sha in found}
    assert names == {"secret.jpg", "x.jpg"}


def test_views_and_originals_are_kept_by_checksum(person, slug, bench):
    content = jpeg(1)
    send(person, slug, ("a b\"'ü.jpg", content))
    sha = bench.records.read(slug).named("photograph 1").sha256
    view = person.get(f"/view/{sha}/320.jpg")
    assert view.headers["content-type"] == "image/jpeg"
    assert "immutable" in view.headers["cache-control"]
    again = person.get(f"/view/{sha}/320.jpg", headers={"if-none-match": view.headers["etag"]})
    assert again.status_code == 304
    assert person.get(f"/view/{sha}/321.jpg").status_code == 404
    original = person.get(f"/original/{sha}")
    assert original.content == content
    assert original.headers["content-disposition"].startswith('attachment; filename="a b')
    assert "sandbox" in original.headers["content-security-policy"]


def test_a_photographs_page_shows_it_and_changes_what_is_said(person, slug, bench):
    send(person, slug, ("a.jpg", jpeg(1)), ("b.jpg", jpeg(2)))
    page = person.get(f"/machine/{slug}/entries/photograph/1")
    assert "Later: photograph 2" in words(page)
    assert "64 × 48 px" in words(page)
    sha = bench.records.read(slug).named("photograph 1").sha256
    person.post(
        f"/machine/{slug}/entries/photograph/1/change",
        {"role": "mark", "caption": "The number", "published": ""},
    )
    entry = bench.records.read(slug).named("photograph 1")
    assert (entry.role.value, entry.caption, entry.published) == ("mark", "The number", False)
    assert entry.sha256 == sha


@pytest.mark.parametrize(
    ("role", "leads"),
    [
        ("ornament", "/ornament/trace/1"),
        ("stitch-out", "/seam?of=photograph+1"),
        ("part", None),
    ],
)
def test_a_photographs_page_leads_first_to_what_it_was_taken_for(person, slug, role, leads):
    person.post(f"/machine/{slug}/photographs", {"role": role}, files={"files": ("a.jpg", jpeg())})
    page = person.get(f"/machine/{slug}/entries/photograph/1").text
    first = re.search(r'<a class="button" href="([^"]*)"', page)[1]
    if leads is None:
        assert first.endswith("/change")
    else:
        assert first.endswith(leads)
        assert page.index(first) < page.index("<img")


def test_photographs_of_one_sort_are_shown_alone(person, slug):
    send(person, slug, ("a.jpg", jpeg(1)), caption="A whole one")
    put(person, slug, jpeg(2))
    page = words(person.get(f"/machine/{slug}/photographs?role=mark"))
    assert "The number" in page
    assert "A whole one" not in page


def test_credit_rights_and_not_published_are_said_of_the_whole_batch(person, slug, bench):
    said = {"credit": "R. Bell", "rights": "in print only", "not_published": "yes"}
    page = person.get(f"/machine/{slug}/photographs")
    assert '<option value="">not said yet</option>' in page.text
    assert 'value="as found" selected' not in page.text
    files = [("files", (f"{n}.jpg", jpeg(n), "image/jpeg")) for n in (1, 2)]
    person.post(f"/machine/{slug}/photographs", said, files=files)
    found = [entry for _, entry in bench.records.read(slug).of(Photograph)]
    assert len(found) == 2
    for entry in found:
        assert (entry.credit, entry.rights, entry.published) == ("R. Bell", "in print only", False)
        assert entry.role.value == "not said"  # nothing was chosen, nothing is claimed
