"""What holds for every request."""

import asyncio
import errno

import pytest
from starlette.routing import Route

from ironlace.web import create_app, manners

from .conftest import ADDRESS, Person, TestClient


def addresses_by_method(app):
    for route in app.routes:
        if isinstance(route, Route) or hasattr(route, "methods"):
            for method in route.methods - {"HEAD"}:
                yield method, route.path


def filled(path):
    for name, value in {
        "{slug}": "test-head-no-1",
        "{kind}": "mark",
        "{key}": "1",
        "{number}": "1",
    }.items():
        path = path.replace(name, value)
    return path


def test_the_policy_lets_nothing_in_from_elsewhere_and_no_inline_script(person):
    policy = person.get("/").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


@pytest.mark.parametrize("address", ["/", "/nothing-here", "/care", "/static/x/bench.css"])
def test_every_answer_carries_the_protecting_headers(person, address):
    headers = person.get(address).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["x-frame-options"] == "DENY"
    assert "default-src 'none'" in headers["content-security-policy"]


def test_no_page_holds_inline_script_or_style(person, slug):
    for address in ("/", f"/machine/{slug}", f"/machine/{slug}/photographs", "/care"):
        page = person.get(address).text
        assert "style=" not in page
        assert "<style" not in page
        assert " onclick" not in page
        assert page.count("<script") == page.count('<script type="module" src="/static/')


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "[::2]:80"])
def test_another_host_is_not_answered(person, host):
    answer = person.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "Machines" not in answer.text.split("<main")[1]


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1", "[::1]:9", "LOCALHOST"])
def test_loopback_by_any_name_is_answered(person, host):
    assert person.get("/", headers={"host": host}).status_code == 200


def test_addresses_in_figures_are_answered_only_when_listening_beyond_loopback(folder, person):
    assert person.get("/", headers={"host": "192.0.2.7:8765"}).status_code == 421
    app = create_app(folder, foreman=False, host="0.0.0.0")
    client = TestClient(app, base_url="http://192.0.2.7:8765")
    assert client.get("/").status_code == 200
    assert client.get("/", headers={"host": "evil.example"}).status_code == 421
    app.state.bench.workshop.close()


def test_the_cookie_is_strict_and_out_of_reach_of_script(person):
    cookie = person.get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "set-cookie" not in person.get("/").headers


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://127.0.0.1:9999"},
    ],
)
def test_a_write_from_elsewhere_is_refused_even_with_a_token(person, bench, headers):
    answer = person.client.post(
        "/machines", data={"token": person.token, "title": "X"}, headers=headers
    )
    assert answer.status_code == 403
    assert bench.records.all() == []


def test_every_address_that_writes_refuses_without_a_token(app, person, slug):
    writing = [(m, p) for m, p in addresses_by_method(app) if m not in ("GET", "OPTIONS")]
    assert len(writing) > 12
    for method, path in writing:
        for options in ({"data": {"a": "b"}}, {"files": {"f": ("a.jpg", b"x")}}):
            answer = person.client.request(method, filled(path), **options)
            assert answer.status_code == 403, (method, path)


def test_reading_addresses_never_change_the_record(app, person, slug, bench):
    person.post(
        f"/machine/{slug}/entries/question", {"asks": "Who made it?"}
    )  # so that there is something to lose
    before = bench.records.changes(slug)
    for method, path in addresses_by_method(app):
        if method == "GET" and "{" not in filled(path):
            person.get(filled(path))
    assert bench.records.changes(slug) == before


def test_a_form_with_a_foreign_token_is_handed_back_to_be_sent_again(app, person, slug, bench):
    other = Person(app)
    answer = person.client.post(
        f"/machine/{slug}/entries/question",
        data={"token": other.token, "asks": "Who made the <b>shuttle</b>?"},
        headers={"origin": ADDRESS},
    )
    assert answer.status_code == 403
    assert "Who made the &lt;b&gt;shuttle&lt;/b&gt;?" in answer.text
    again = person.post(
        f"/machine/{slug}/entries/question", {"asks": "Who made the <b>shuttle</b>?"}
    )
    assert again.status_code == 200
    assert "<b>shuttle" not in again.text


def test_a_token_outlives_a_restart(folder, person, slug):
    token, cookies = person.token, dict(person.client.cookies)
    again = create_app(folder, foreman=False)
    client = TestClient(again, base_url=ADDRESS, cookies=cookies, follow_redirects=False)
    answer = client.post("/machines", data={"token": token, "title": "After"})
    assert answer.status_code == 303
    again.state.bench.workshop.close()


def test_the_own_files_are_kept_for_ever_and_their_address_changes_with_them(person):
    import re

    page = person.get("/").text
    sheet = re.search(r'href="(/static/[0-9a-f]+/bench.css)"', page)[1]
    assert "immutable" in person.get(sheet).headers["cache-control"]
    stale = person.get("/static/0000/bench.css")
    assert "immutable" not in stale.headers["cache-control"]
    assert person.get("/static/0000/../app.py").status_code == 404


def test_a_fault_of_the_program_shows_a_sentence_and_no_insides(person, bench, monkeypatch):
    def broken():
        raise RuntimeError("secret insides")

    monkeypatch.setattr(bench.records, "all", broken)
    answer = person.get("/care")
    assert answer.status_code == 200
    answer = person.get("/")
    assert answer.status_code == 500
    assert "secret insides" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("mode", ["no-cors", "cors"])
def test_a_page_of_another_site_cannot_set_the_bench_to_work(person, mode):
    told = {"sec-fetch-site": "cross-site", "sec-fetch-mode": mode}
    assert person.get("/", headers=told).status_code == 403
    led = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert person.get("/", headers=led).status_code == 200


def test_a_full_disk_is_a_sentence_and_nothing_is_kept(person, bench, monkeypatch):

    def full(*_args, **_kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(type(bench.workshop.records), "all", full)
    answer = person.get("/", headers={"accept": "application/json"})
    assert answer.status_code == 507
    assert answer.json()["error"]["says"].startswith("The disk is full")


def test_a_body_that_stands_still_is_given_up(monkeypatch):
    monkeypatch.setattr(manners, "_STANDSTILL_S", 0.05)

    async def never():
        await asyncio.sleep(60)

    with pytest.raises(manners.StalledError, match="send it again"):
        asyncio.run(manners._impatient(never)())


def test_after_the_body_it_waits_as_long_as_it_takes(monkeypatch):
    monkeypatch.setattr(manners, "_STANDSTILL_S", 0.05)
    messages = [{"type": "http.request", "body": b"x", "more_body": False}]

    async def receive():
        if messages:
            return messages.pop()
        await asyncio.sleep(0.2)
        return {"type": "http.disconnect"}

    async def both():
        received = manners._impatient(receive)
        return [(await received())["type"] for _ in range(2)]

    assert asyncio.run(both()) == ["http.request", "http.disconnect"]
