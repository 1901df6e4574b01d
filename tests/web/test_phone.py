"""The phone's door: one phone gets in, nothing is kept twice, nothing else is answered."""

import errno
import re
import socket
import threading
from contextlib import contextmanager

import pytest

from bench_visitor import TestClient
from ironlace.evidence.errors import ConflictError
from ironlace.evidence.grades import Grade
from ironlace.record import EntryKind, Measurement, Photograph
from ironlace.web import addresses
from ironlace.web.phone.door_app import door_app
from ironlace.web.phone.phone_door import PhoneDoor, PhoneDoorError
from ironlace.web.phone.sessions import Session, Where

from .conftest import jpeg, words
from .test_manners import addresses_by_method
from .test_photographs import bomb, nothing_left_over

WHERE = Where("192.168.7.5", 8766)
ORIGIN = "http://192.168.7.5:8766"
CALIPER = {"what": "needle bar stroke", "unit": "mm", "instrument": "vernier caliper"}


def key(number=1):
    return f"{number:032x}"


@pytest.fixture
def session(bench, slug):
    made = Session(WHERE, bench.gate.secret, "Ada")
    made.work_for(slug, "Test head no. 1", ("needle bar stroke",))
    return made


class Phone:
    """A browser at the door."""

    def __init__(self, session, bench, origin=ORIGIN):
        self.session = session
        self.client = TestClient(door_app(session, bench), base_url=ORIGIN, follow_redirects=False)
        self.headers = {"origin": origin, "accept": "application/json"}

    def join(self, code=None):
        code = self.session.pairing.code if code is None else code
        return self.client.post("/join", data={"code": code}, headers={"origin": ORIGIN})

    def photograph(self, body, number=1, headers=(), **query):
        return self.client.put(
            "/photograph",
            params={"for": self.session.work.key, "came_as": "a.jpg", **query},
            content=body,
            headers=self.headers | {"x-ironlace-key": key(number)} | dict(headers),
        )

    def reading(self, told, number=1, headers=(), **query):
        return self.client.post(
            "/reading",
            params={"for": self.session.work.key, **query},
            json=told,
            headers=self.headers | {"x-ironlace-key": key(number)} | dict(headers),
        )


@pytest.fixture
def phone(session, bench):
    return Phone(session, bench)


@pytest.fixture
def joined(phone):
    assert phone.join().status_code == 303
    return phone


def says(answer):
    return answer.json()["error"]["says"]


# --- joining -------------------------------------------------------------------------------------


def test_the_code_lets_a_phone_in_by_a_cookie_that_no_script_reads(phone):
    assert "Type the code" in words(phone.client.get("/"))
    answer = phone.join()
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "max-age" not in cookie  # it goes when the browser does
    page = phone.client.get("/")
    assert "Take a photograph" in words(page)
    assert "Test head no. 1" in words(page)
    assert "needle bar stroke" in page.text


def test_a_second_phone_is_refused_until_the_computer_shows_a_code_for_it(joined, session, bench):
    second = Phone(session, bench)
    page = second.client.get("/")
    assert "Another phone is joined" in words(page)
    assert 'name="code"' not in page.text
    assert second.join("ACDEFGHJ").status_code == 409
    assert joined.client.get("/state.json").status_code == 200
    session.pairing.new_code()
    assert joined.client.get("/state.json").status_code == 200
    assert second.join().status_code == 303
    assert second.client.get("/state.json").status_code == 200
    out = joined.client.get("/state.json", headers={"accept": "application/json"})
    assert out.status_code == 401
    assert "What waits here is kept" in says(out)


def test_wrong_codes_are_told_and_then_locked(phone, session, bench):
    code = session.pairing.code
    other = ("C" if code[0] != "C" else "D") + code[1:]
    for left in (4, 3, 2, 1):
        answer = phone.join(other)
        assert answer.status_code == 403
        assert f"({left} " in words(answer)
    assert phone.join(other).status_code == 429
    answer = Phone(session, bench).join(code)
    assert answer.status_code == 429
    assert "Five wrong codes were tried" in words(answer)
    assert "set-cookie" not in answer.headers


def test_a_phone_that_is_done_goes_out(joined):
    answer = joined.client.post("/leave", headers={"origin": ORIGIN})
    assert answer.status_code == 303
    assert joined.client.get("/state.json").status_code == 401


# --- strangers -----------------------------------------------------------------------------------


def routes(app):
    return {(m, r.path) for r in app.routes for m in r.methods - {"HEAD"}}


def test_the_door_has_few_addresses_and_none_of_the_bench(session, bench, person, slug):
    app = door_app(session, bench)
    assert len(routes(app)) == 11  # at ten addresses
    client = Phone(session, bench)
    client.join()
    person.post(f"/machine/{slug}/entries/question", {"asks": "A secret?"})
    bench_paths = {
        addresses.care(),
        addresses.machine(slug),
        addresses.photographs(slug),
        addresses.history(slug),
        addresses.phone(),
        addresses.phone_state(),
        addresses.entry(slug, "question 1"),
        addresses.view("0" * 64, 320),
        addresses.original("0" * 64),
        "/static/x/../app.py",
        "/docs",
        "/openapi.json",
    }
    for path in bench_paths:
        for method in ("GET", "POST", "PUT", "DELETE", "OPTIONS"):
            answer = client.client.request(method, path, headers={"origin": ORIGIN})
            assert answer.status_code in (404, 405), (method, path)
            assert "secret" not in answer.text


def test_a_stranger_without_a_token_gets_nothing_and_leaves_nothing(phone, bench, slug):
    received = []
    bench.workshop.store.receive = lambda *a: received.append(a)  # its body never reaches the disk
    for answer in (
        phone.photograph(jpeg(1)),
        phone.reading(CALIPER | {"number": "12"}),
        phone.client.get("/state.json", headers=phone.headers),
        phone.client.get("/reads.json?number=12", headers=phone.headers),
        phone.client.post("/leave", headers=phone.headers),
    ):
        assert answer.status_code == 401
        assert "not joined" in says(answer)
        assert "Test head" not in answer.text
    assert received == []
    assert bench.records.changes(slug) == []
    assert "Test head" not in phone.client.get("/").text  # not even the machine's name


@pytest.mark.parametrize("token", ["", "x", "ironlace", "é", "a" * 5000])
def test_a_made_up_token_is_no_token(phone, joined, session, bench, token):
    stranger = Phone(session, bench)
    headers = {"cookie": f"ironlace-phone={token}".encode()}
    assert stranger.client.get("/state.json", headers=headers).status_code == 401


@pytest.mark.parametrize(
    "host",
    ["evil.example", "192.168.7.5", "192.168.7.5:80", "127.0.0.1:8766", "localhost:8766", ""],
)
def test_only_the_doors_own_host_is_answered(joined, host):
    answer = joined.client.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "Test head" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://192.168.7.5:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_write_from_another_site_is_refused_even_with_the_token(joined, bench, slug, headers):
    answers = [
        joined.photograph(jpeg(1), headers=headers),
        joined.reading(CALIPER | {"number": "12"}, headers=headers),
        joined.client.post("/leave", headers=headers),
    ]
    code = joined.session.pairing.new_code()
    answers.append(joined.client.post("/join", data={"code": code}, headers=headers))
    assert [answer.status_code for answer in answers] == [403] * 4
    assert bench.records.changes(slug) == []


def test_another_site_cannot_ask_leave_beforehand(joined):
    answer = joined.client.options(
        "/photograph",
        headers={"origin": "http://evil.example", "access-control-request-method": "PUT"},
    )
    assert answer.status_code in (403, 405)
    assert not any(name.startswith("access-control") for name in answer.headers)


def test_every_answer_is_dressed_and_none_is_stored(joined):
    for path in ("/", "/state.json", "/nothing", "/photograph"):
        headers = joined.client.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert headers["x-frame-options"] == "DENY"
        assert headers["cache-control"] == "no-store"


def test_of_the_own_files_only_those_of_the_page_are_there(joined):
    page = joined.client.get("/").text
    named = re.findall(r'(?:src|href)="(/static/[^"]+)"', page)
    assert len(named) >= 4
    for path in named:
        answer = joined.client.get(path)
        assert answer.status_code == 200
        assert "immutable" in answer.headers["cache-control"]
    digest = named[0].split("/")[2]
    style = joined.client.get(f"/static/{digest}/bench.css").text
    faces = re.findall(r'url\("([^"]+\.otf)"\)', style)
    assert len(faces) == 5
    for name in faces:
        assert joined.client.get(f"/static/{digest}/{name}").status_code == 200
    for name in ("rework.js", "taking_in.js", "phone_door.js", "..%2fapp.py"):
        assert joined.client.get(f"/static/{digest}/{name}").status_code == 404
    assert "style=" not in page
    assert "<style" not in page
    assert page.count("<script") == page.count('<script type="module" src="/static/')


# --- what comes in -------------------------------------------------------------------------------


def test_a_photograph_comes_in_as_on_the_bench_its_use_unsaid(joined, bench, slug):
    answer = joined.photograph(jpeg(1), came_as="../../IMG_1.jpg")
    assert answer.status_code == 200
    assert answer.json() == {"name": "photograph 1", "again": False}
    entry = bench.records.read(slug).named("photograph 1")
    assert (entry.role.value, entry.caption) == ("not said", "")
    assert bench.photographs.original(entry.sha256).came_as == "IMG_1.jpg"
    assert bench.records.changes(slug)[-1].made_by == "Ada, by phone"
    nothing_left_over(bench)


def test_what_is_sent_again_is_answered_alike_and_kept_once(joined, bench, slug):
    first = joined.photograph(jpeg(1))
    again = joined.photograph(jpeg(1))
    assert (again.status_code, again.json()) == (200, first.json())
    told = CALIPER | {"number": "31.6"}
    first = joined.reading(told, 2)
    again = joined.reading(told, 2)
    assert (again.status_code, again.json()) == (200, first.json())
    record = bench.records.read(slug)
    assert (record.count(EntryKind.PHOTOGRAPH), record.count(EntryKind.MEASUREMENT)) == (1, 1)
    assert len(joined.session.arrived) == 2
    nothing_left_over(bench)


def test_a_key_is_for_one_thing(joined, bench, slug):
    joined.reading(CALIPER | {"number": "31.6"})
    answer = joined.reading(CALIPER | {"number": "31.7"})
    assert answer.status_code == 409
    assert "under the same key" in says(answer)
    assert joined.photograph(jpeg(1)).status_code == 409
    for bad in ("", "x" * 32, "A" * 32, key() + "0"):
        headers = {"x-ironlace-key": bad}
        assert joined.reading(CALIPER | {"number": "1"}, headers=headers).status_code == 400
    assert len(bench.records.changes(slug)) == 1
    nothing_left_over(bench)


@pytest.mark.parametrize(
    ("body", "status", "expected"),
    [
        (b"just some text, renamed", 415, "is not a photograph"),
        (jpeg(1, (200, 200))[:-900], 415, "broken off or damaged"),
        (bomb(), 415, "million pixels"),
        (b"", 415, "is not a photograph"),
        (b"\xff" * 20_000_001, 413, "is larger than"),
    ],
    ids=["text", "truncated", "bomb", "empty", "large"],
)
def test_what_the_bench_refuses_the_door_refuses_and_it_may_come_right(
    joined, bench, slug, body, status, expected
):
    answer = joined.photograph(body)
    assert answer.status_code == status
    assert expected in says(answer)
    assert bench.records.changes(slug) == []
    nothing_left_over(bench)
    assert joined.photograph(jpeg(5)).status_code == 200  # a refusal uses up no key


def test_what_is_said_to_be_too_large_is_not_read_at_all(joined, bench):
    received = []
    bench.workshop.store.receive = lambda *a: received.append(a)
    answer = joined.photograph(b"x", headers={"content-length": "999999999999"})
    assert answer.status_code == 413
    assert received == []


def test_a_reading_is_measured_when_an_instrument_gave_it(joined, bench, slug):
    told = CALIPER | {"number": "thirty one point six oh", "error": "0,1"}
    answer = joined.reading(told)
    assert answer.status_code == 200
    assert answer.json()["name"] == "measurement 1"
    assert answer.json()["reads"].startswith("needle bar stroke: 31.6 ± 0.1 mm")
    entry = bench.records.read(slug).named("measurement 1")
    assert isinstance(entry, Measurement)
    assert entry.reads == "31.60 ± 0.1 mm"
    assert entry.grade is Grade.MEASURED
    assert [source.in_words() for source in entry.sources] == [
        "instrument: read at the bench, called in by phone"
    ]
    assert entry.note == "Called out as 'thirty one point six oh'."
    assert entry.date is None
    assert entry.part == ""


def test_without_an_instrument_it_must_be_said_how_it_is_known(joined, bench, slug):
    told = {"what": "teeth of the wheel", "unit": "mm", "number": "12"}
    for grade in ("", "measured", "certain"):
        answer = joined.reading(told | {"grade": grade})
        assert answer.status_code == 422
        assert "No instrument was named" in says(answer)
    assert joined.reading(told | {"grade": "seen"}).status_code == 200
    entry = bench.records.read(slug).named("measurement 1")
    assert entry.grade is Grade.SEEN
    assert entry.sources[0].kind.value == "person"
    assert entry.note == ""


@pytest.mark.parametrize(
    ("wrong", "expected"),
    [
        ({"what": " "}, "not said what is read"),
        ({"unit": ""}, "not said in what unit"),
        ({"number": ""}, "no number yet"),
        ({"number": "twelve five"}, "give the number alone"),
        ({"number": "1,234"}, "could be 1234 or 1.234"),
        ({"unit": "furlongish"}, "not a unit known here"),
        ({"error": "some"}, "give the number alone"),
        ({"number": 12}, "'number' should be text"),
        ({"what": "x" * 301}, "too long"),
        ({"number": "9" * 13}, "give the number alone"),
    ],
)
def test_a_reading_that_cannot_be_used_is_told_in_one_sentence(
    joined, bench, slug, wrong, expected
):
    answer = joined.reading(CALIPER | {"number": "12"} | wrong)
    assert answer.status_code == 422
    assert expected in says(answer)
    assert bench.records.changes(slug) == []


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b"\xff", b"[" * 100_000])
def test_a_reading_that_is_no_object_is_told(joined, body):
    headers = joined.headers | {"x-ironlace-key": key()}
    params = {"for": joined.session.work.key}
    answer = joined.client.post("/reading", params=params, content=body, headers=headers)
    assert answer.status_code in (400, 413)
    assert says(answer)


def test_how_a_number_is_understood_can_be_asked(joined):
    assert joined.client.get("/reads.json?number=twelve point five").json() == {"reads": "12.5"}
    answer = joined.client.get("/reads.json?number=1,234", headers=joined.headers)
    assert answer.status_code == 422


def test_what_was_taken_for_another_machine_never_gets_into_this_one(joined, bench, slug, person):
    before = joined.session.work.key
    person.post("/machines", {"title": "The other"})
    joined.session.work_for("the-other", "The other", ())
    state = joined.client.get("/state.json").json()
    assert state["machine"] == "The other"
    assert state["for"] != before
    # what was taken for the first is still taken in there, since the door was open for it
    assert joined.photograph(jpeg(1), **{"for": before}).status_code == 200
    assert joined.photograph(jpeg(2), 2).status_code == 200
    counts = [bench.records.read(s).count(EntryKind.PHOTOGRAPH) for s in (slug, "the-other")]
    assert counts == [1, 1]
    for stale in ("", "0" * 24, slug):
        answer = joined.photograph(jpeg(3), 3, **{"for": stale})
        assert answer.status_code == 409
        assert "another machine or workshop" in says(answer)


def test_a_full_disk_is_told_keeps_nothing_and_uses_up_no_key(joined, bench, slug, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as now:
        now.setattr(bench.workshop.store, "keep", full)
        answer = joined.photograph(jpeg(1))
    assert answer.status_code == 507
    assert "disk is full" in says(answer)
    assert bench.records.changes(slug) == []
    nothing_left_over(bench)
    assert joined.photograph(jpeg(1)).json() == {"name": "photograph 1", "again": False}


# --- the end -------------------------------------------------------------------------------------


def test_the_end_of_the_session_ends_all_at_once(joined, session, bench, slug):
    session.end()
    for answer in (
        joined.photograph(jpeg(1)),
        joined.reading(CALIPER | {"number": "12"}),
        joined.client.get("/state.json", headers=joined.headers),
        joined.client.get("/", headers=joined.headers),
    ):
        assert answer.status_code == 410
        assert "The door is closed" in says(answer)
    assert bench.records.changes(slug) == []


def test_a_photograph_whose_sender_is_shown_out_meanwhile_is_not_kept(joined, bench, slug):
    def shown_out(*given, **named):
        joined.session.end()  # between its coming in and its being kept
        return take_in(*given, **named)

    take_in, bench.photographs.take_in = bench.photographs.take_in, shown_out
    assert joined.photograph(jpeg(1)).status_code == 401
    assert bench.records.changes(slug) == []
    assert list(bench.workshop.store.files()) == []
    nothing_left_over(bench)


# --- over a real connection ----------------------------------------------------------------------


@pytest.fixture
def door(bench, slug):
    made = PhoneDoor(bench)
    yield made
    made.close()


@contextmanager
def connection(session):
    with socket.create_connection((session.where.address, session.where.port), 10) as plug:
        yield plug


def ask(session, request, body=b""):
    with connection(session) as plug:
        plug.sendall(request + body)
        return answer_of(plug)


def answer_of(plug):
    got = b""
    while piece := plug.recv(65536):
        got += piece
    return got


def head(session, method, path, token="", length=None, **headers):
    lines = [f"{method} {path} HTTP/1.1", f"host: {session.where.host}", "connection: close"]
    lines += [f"cookie: ironlace-phone={token}"] if token else []
    lines += [f"content-length: {length}"] if length is not None else []
    lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
    return ("\r\n".join(lines) + "\r\n\r\n").encode()


def large_photograph(size=12_000_000):
    # trailing bytes are kept as they came, and change nothing of the picture before them
    picture = jpeg(3, (600, 400))
    return picture + b"\0" * (size - len(picture))


def wait_until(true):
    """Wait for something that another thread is about to do; fail when it does not."""
    for _ in range(400):
        if true():
            return
        threading.Event().wait(0.02)
    raise AssertionError("it did not come to that")


def parts(bench):
    incoming = bench.workshop.folder / "incoming"
    return list(incoming.iterdir()) if incoming.exists() else []


@pytest.fixture
def limits():
    from ironlace.web.bench import Limits

    return Limits(photograph=20_000_000, request=30_000_000, fields=20_000, files=5)


@pytest.mark.slow
def test_a_connection_lost_in_the_middle_of_12_mb_leaves_nothing_and_it_is_sent_anew(
    door, bench, slug
):
    session = door.open("127.0.0.1", slug, port=0)
    token = session.pairing.join(session.pairing.code)
    body = large_photograph()
    path = f"/photograph?for={session.work.key}&came_as=large.jpg"
    request = head(session, "PUT", path, token, len(body), x_ironlace_key=key())
    with connection(session) as plug:
        plug.sendall(request + body[: len(body) // 2])
        wait_until(lambda: any(part.stat().st_size > 4_000_000 for part in parts(bench)))
    wait_until(lambda: parts(bench) == [])
    assert bench.records.changes(slug) == []
    assert list(bench.workshop.store.files()) == []
    first = ask(session, request, body)
    assert b"200 OK" in first.splitlines()[0]
    again = ask(session, request, body)  # its answer was lost
    assert again.split(b"\r\n\r\n")[1] == first.split(b"\r\n\r\n")[1]
    (entry,) = [p for _, p in bench.records.read(slug).of(Photograph)]
    assert bench.photographs.original(entry.sha256).size == len(body)
    nothing_left_over(bench)


def test_a_sender_that_falls_silent_is_let_go_and_leaves_nothing(joined, bench, monkeypatch, slug):
    from ironlace.web.phone import phone_door

    monkeypatch.setattr(phone_door, "door_app", lambda s, b: door_app(s, b, stalled_s=0.3))
    door = PhoneDoor(bench)
    session = door.open("127.0.0.1", slug, port=0)
    token = session.pairing.join(session.pairing.code)
    path = f"/photograph?for={session.work.key}"
    with connection(session) as plug:
        plug.sendall(head(session, "PUT", path, token, 5000, x_ironlace_key=key()) + b"half")
        wait_until(lambda: parts(bench))
        wait_until(lambda: parts(bench) == [])  # although the connection still stands
    door.close()


def test_closing_breaks_off_what_is_on_its_way_and_nobody_listens_any_more(door, bench, slug):
    session = door.open("127.0.0.1", slug, port=0)
    token = session.pairing.join(session.pairing.code)
    path = f"/photograph?for={session.work.key}"
    body = large_photograph(4_000_000)
    with connection(session) as plug:
        plug.sendall(
            head(session, "PUT", path, token, len(body), x_ironlace_key=key()) + body[:2_000_000]
        )
        wait_until(lambda: parts(bench))
        door.close()
        with pytest.raises((ConnectionError, BrokenPipeError)):
            while True:
                plug.sendall(b"\0" * 65536)
    with pytest.raises(ConnectionError), connection(session):
        pass
    assert door.session is None
    wait_until(lambda: parts(bench) == [])
    assert bench.records.changes(slug) == []
    again = door.open("127.0.0.1", slug, port=session.where.port)  # at the same address, at once
    assert b" 401 " in ask(again, head(again, "GET", "/state.json", token))


def test_it_listens_at_its_one_address_only_and_the_bench_stays_on_loopback(door, slug):
    session = door.open("127.0.0.2", slug, port=0)
    for other in ("127.0.0.1", "127.0.0.3"):
        with pytest.raises(ConnectionError):
            socket.create_connection((other, session.where.port), 5).close()
    assert b" 200 " in ask(session, head(session, "GET", "/")).splitlines()[0]
    wrong = b"GET / HTTP/1.1\r\nhost: evil.example\r\nconnection: close\r\n\r\n"
    assert b" 421 " in ask(session, wrong).splitlines()[0]


def test_there_is_one_door_and_a_bad_place_opens_none(door, bench, slug):
    with pytest.raises(PhoneDoorError, match=r"Nothing can listen at 192\.0\.2\.77"):
        door.open("192.0.2.77", slug, port=0)
    assert door.session is None
    first = door.open("127.0.0.1", slug, port=0)
    with pytest.raises(ConflictError, match="open already"):
        door.open("127.0.0.1", slug, port=0)
    other = PhoneDoor(bench)
    with pytest.raises(PhoneDoorError, match="a port that is free"):
        other.open("127.0.0.1", slug, port=first.where.port)
    door.close()
    door.close()


def test_it_closes_by_itself_when_it_is_forgotten(bench, slug, monkeypatch):
    from ironlace.web.phone import phone_door

    monkeypatch.setattr(phone_door, "_LONGEST_S", 0.05)
    door = PhoneDoor(bench)
    door.open("127.0.0.1", slug, port=0)
    wait_until(lambda: door.session is None)


# --- the computer's pages ------------------------------------------------------------------------


@pytest.fixture
def at_computer(app, person):
    yield person
    app.state.door.close()


def opened(person, slug, **fields):
    told = {"machine": slug, "typed": "127.0.0.1", "port": "0", **fields}
    return person.post("/phone/open", told)


def test_the_computer_opens_shows_and_closes_it(at_computer, app, slug, bench):
    person = at_computer
    person.post(
        f"/machine/{slug}/entries/measurement",
        {"what": "bed length", "reads": "300 mm", "grade": "seen"},
    )
    page = person.get("/phone")
    assert "The door is closed" in words(page)
    assert "not encrypted" in words(page)
    assert "bed length" in words(page)
    page = opened(person, slug, wanted="needle rise\n\n needle  rise \nrace", before="bed length")
    session = app.state.door.session
    assert session.work.wanted == ("bed length", "needle rise", "race")
    code = session.pairing.code
    assert f"{code[:4]} {code[4:]}" in words(page)
    assert session.where.url in words(page)
    assert '<svg role="img"' in page.text
    assert "style=" not in page.text
    assert "door is open for Test head no. 1" in words(person.get("/"))
    assert "its door is open for this machine" in words(person.get(f"/machine/{slug}/photographs"))
    token = session.pairing.join(code)
    assert person.get("/phone/state.json").json() == {
        "state": "JOINED",
        "says": "A phone is joined.",
        "arrived": 0,
        "came": "Nothing has come by the phone yet.",
    }
    assert "Another phone instead" in words(person.get("/phone"))
    assert person.post("/phone/code").status_code == 200
    assert session.pairing.code is not None
    assert session.pairing.admits(token)
    person.post("/phone/work", {"machine": slug, "wanted": "shuttle race"})
    assert session.work.wanted == ("shuttle race",)
    assert "The door is closed" in words(person.post("/phone/close"))
    assert session.ended
    assert "Closed." in words(person.get("/"))


def test_the_qr_code_holds_address_and_code_for_a_camera(at_computer, app, slug):
    cv2 = pytest.importorskip("cv2")
    numpy = pytest.importorskip("numpy")
    resvg = pytest.importorskip("resvg_py")
    page = opened(at_computer, slug).text
    svg = re.search(r"<svg role=.*?</svg>", page, re.S)[0]
    svg = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    svg = svg.replace('xmlns="http://www.w3.org/2000/svg" xmlns="http://www.w3.org/2000/svg"', "")
    png = bytes(resvg.svg_to_bytes(svg_string=svg, width=400, height=400, background="white"))
    picture = cv2.imdecode(numpy.frombuffer(png, numpy.uint8), cv2.IMREAD_GRAYSCALE)
    read, _, _ = cv2.QRCodeDetector().detectAndDecode(picture)
    session = app.state.door.session
    assert read == f"{session.where.url}#{session.pairing.code}"


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"machine": ""}, "not said for which machine"),
        ({"machine": "no-such"}, "There is no machine 'no-such'"),
        ({"typed": ""}, "not said at which address"),
        ({"typed": "0.0.0.0"}, "many addresses at once"),
        ({"typed": "my.house.example"}, "not an address in figures"),
        ({"port": "70000"}, "is not a port"),
        ({"port": "x"}, "is not a port"),
    ],
)
def test_what_cannot_be_opened_is_told_and_what_was_typed_stays(
    at_computer, app, slug, fields, expected
):
    answer = opened(at_computer, slug, wanted="needle rise", **fields)
    assert answer.status_code in (404, 422)
    assert expected in words(answer)
    assert "needle rise" in answer.text
    assert app.state.door.session is None


def test_a_closed_door_is_offered_where_photographs_are_taken_in(at_computer, slug):
    page = at_computer.get(f"/machine/{slug}/photographs").text
    assert f'href="/phone?machine={slug}"' in page
    assert "capture=" not in page  # no field that cannot work
    assert f'<option value="{slug}" selected>' in at_computer.get(f"/phone?machine={slug}").text


def test_the_door_closes_with_the_bench(app, slug, bench):
    with TestClient(app, base_url="http://127.0.0.1:8765"):
        session = app.state.door.open("127.0.0.1", slug, port=0)
    assert session.ended
    with pytest.raises(ConnectionError), connection(session):
        pass


def test_the_bench_knows_none_of_the_doors_addresses(app, person):
    for path in ("/join", "/photograph", "/state.json", "/reads.json", "/leave"):
        assert person.get(path).status_code == 404
    # `/reading` there only tells how something reads
    assert "GET" in {method for method, path in addresses_by_method(app) if path == "/reading"}
    assert "POST" not in {method for method, path in addresses_by_method(app) if path == "/reading"}


def test_the_door_listens_beyond_loopback_while_the_bench_does_not(tmp_path):
    """By the program itself, at this machine's own address where it has one."""
    from ironlace.web.phone.house_network import house_addresses

    found = [one.address for one in house_addresses() if ":" not in one.address]
    if not found:
        pytest.skip("this machine is in no network")
    import subprocess
    import sys

    from ironlace.workshop import Workshop

    with Workshop.create(tmp_path / "w") as made:
        made.records.create("Test head")
    command = [sys.executable, "-m", "ironlace", "serve", "--workshop", str(tmp_path / "w")]
    options = ["--port", "0", "--no-browser", "--phone", "--phone-port", "0"]
    program = subprocess.Popen(
        [*command, *options, "--phone-address", found[0]], stdout=subprocess.PIPE, text=True
    )
    try:
        bench = re.search(r"http://127\.0\.0\.1:(\d+)/", program.stdout.readline())
        door = re.search(rf"http://{re.escape(found[0])}:(\d+)/", program.stdout.readline())
        code = re.search(r"code is ([A-Z0-9]{4}) ([A-Z0-9]{4}),", program.stdout.readline())
        assert len(code[1] + code[2]) == 8
        socket.create_connection((found[0], int(door[1])), 10).close()
        for address, port in ((found[0], bench[1]), ("127.0.0.1", door[1])):
            with pytest.raises(ConnectionError):
                socket.create_connection((address, int(port)), 5).close()
    finally:
        program.terminate()
        program.wait(20)
        program.stdout.close()
