"""The call and the tray by browser: what is laid in, what is decided, what is refused."""

import pytest

from ironlace.record import Mark, Photograph, ReportEntry, SentReport
from ironlace.survey.sharing.report_block import compose
from ironlace.web import addresses

from .conftest import jpeg, typed, words

REPORT = compose({"reads": "C°95·1164", "sender": "A. Person", "sender_as": "by my initials"})


@pytest.fixture
def at(slug, bench):
    mark = Mark(reads="C°94·201", where="bed, in front", grade="seen", purpose="serial number")
    bench.records.add(slug, mark)
    return f"/machine/{slug}"


def sent(bench, slug):
    return list(bench.records.read(slug).of(SentReport))


def test_the_page_of_reports_leads_to_the_call_and_to_the_tray(person, at):
    person.post(f"{at}/tray", {"pasted": REPORT})
    page = person.get(f"{at}/dating")
    assert f"{at}/dating/call" in page.text
    assert "The tray: 1 waiting" in words(page)


def test_a_call_is_handed_over_with_what_was_said_of_it(person, at):
    page = person.get(f"{at}/dating/call?mail=a@b.example&keeper=The+keeper")
    assert "card-a6.pdf" in page.text
    made = person.get(f"{at}/dating/call/call.html?mail=a@b.example&keeper=The+keeper")
    assert made.headers["content-disposition"].startswith("attachment")
    assert "Reports are gathered by The keeper." in made.text
    assert "bed, in front" in made.text
    assert "mailto:a@b.example?subject=" in made.text
    assert "http" not in made.text.replace("http-equiv", "").replace(
        "http://www.w3.org/2000/svg", ""
    )
    text = person.get(f"{at}/dating/call/call.txt")
    assert "Answer whoever gave you this call" in text.text
    assert person.get(f"{at}/dating/call/call.exe").status_code == 404
    elsewhere = {"sec-fetch-site": "cross-site"}
    assert person.get(f"{at}/dating/call/call.txt", headers=elsewhere).status_code == 404


def test_a_call_cannot_be_bent_by_what_is_said_of_it(person, at):
    bent = "</script><script>alert(1)</script>"
    page = person.get(f"{at}/dating/call/call.html", params={"machine": bent})
    assert "<script>alert" not in page.text
    page = person.get(f"{at}/dating/call/call.html?mail=a@b.example%0d%0aBcc:c@d.example")
    assert page.status_code == 422
    assert "no address of a mailbox" in words(page)


def test_a_photograph_shows_the_place_if_it_may_be_shown(person, at, bench, slug):
    person.post(
        f"{at}/photographs",
        {"role": "mark", "published": "yes"},
        files=[("file", ("a.jpg", jpeg()))],
    )
    ((name, photo),) = bench.records.read(slug).of(Photograph)
    asked = {"photograph": name, "at": "40,62"}
    made = person.get(f"{at}/dating/call/call.html", params=asked)
    assert "data:image/jpeg;base64," in made.text
    assert 'cx="40.0" cy="62.0"' in made.text
    bad = person.get(f"{at}/dating/call/call.html", params={**asked, "at": "4000,1"})
    assert "no place in a photograph" in words(bad)
    bench.records.change(slug, name, photo.model_copy(update={"published": False}))
    hidden = person.get(f"{at}/dating/call/call.html", params=asked)
    assert "is for you alone" in words(hidden)


def test_pasted_and_attached_it_waits_until_it_is_decided(person, at, bench, slug):
    files = [("file", ("report.txt", REPORT.replace("1164", "1165").encode()))]
    page = person.post(f"{at}/tray", {"pasted": REPORT}, files=files)
    said = words(page)
    assert "its words were changed on their way" in said.lower()
    assert [name for name, _ in sent(bench, slug)] == ["sent 1", "sent 2"]
    assert "A. P., by initials" in said
    nothing = person.post(f"{at}/tray/decide", {"sent": "sent 2", "reads": "C°95·1164"})
    assert nothing.status_code == 422
    assert "nothing is chosen beforehand" in words(nothing)
    assert typed(nothing, "reads") is not None
    kept = person.post(
        f"{at}/tray/decide", {"sent": "sent 2", "reads": "C°95·1164", "verdict": "kept"}
    )
    assert "report 1" in words(kept)
    down = person.post(f"{at}/tray/decide", {"sent": "sent 1", "verdict": "turned down"})
    assert "Say why" in words(down)
    person.post(
        f"{at}/tray/decide", {"sent": "sent 1", "verdict": "turned down", "reason": "spoilt"}
    )
    assert [one.verdict.value for _, one in sent(bench, slug)] == ["turned down", "kept"]
    assert "A. P.: C°95·1164" in person.get(f"{at}/tray/thanks.txt").text
    person.post(f"{at}/tray/take-back", {"sent": "sent 2"})
    assert sum(1 for _ in bench.records.read(slug).of(ReportEntry)) == 0


def test_a_number_known_already_is_pointed_out(person, at, bench, slug):
    bench.records.add(slug, ReportEntry(name="a", reads="C°92·38", grade="seen"))
    page = person.post(f"{at}/tray", {"pasted": REPORT.replace("C°95·1164", "C°92.38")})
    assert "The same number as report 1" in words(page)


def test_what_was_sent_has_its_own_page_and_stays_out_of_the_pack(person, at, bench, slug):
    person.post(f"{at}/tray", {"pasted": REPORT})
    page = person.get(addresses.entry(slug, "sent 1"))
    assert page.status_code == 200
    assert "Wishes to be named" in words(page)
    assert person.get(f"{at}/whole").status_code == 200
    assert person.get(f"{at}/history").status_code == 200
    assert "1 report sent in" in words(person.get(f"{at}/pack"))


def test_what_holds_nothing_is_refused(person, at, bench, slug):
    assert person.post(f"{at}/tray", {"pasted": ""}).status_code == 422
    page = person.post(f"{at}/tray", {"pasted": "Good day."})
    assert page.status_code == 422
    assert "holds no report" in words(page)
    assert typed(page, "pasted").strip() == "Good day."
    page = person.post(f"{at}/tray", {}, files=[("file", ("a.eml", b"x" * 300_000))])
    assert page.status_code == 422
    assert sent(bench, slug) == []
    assert (
        person.post(f"{at}/tray/decide", {"sent": "sent 9", "verdict": "kept"}).status_code == 404
    )
