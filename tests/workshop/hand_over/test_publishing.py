"""The public site out of a workshop: one machine or all, brought up to date, by command too."""

import json

import pytest

from ironlace.cli import main
from ironlace.dossier.errors import DossierError
from ironlace.evidence.errors import IronlaceError
from ironlace.record import Mark, Statement
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.publishing import SiteAsked, make_site
from ironlace.workshop.survey.call_made import CallAsked

BASE = "https://iron.example/bench"


@pytest.fixture
def two(tmp_path):
    with Workshop.create(tmp_path / "workshop") as workshop:
        for title in ("First head", "Second head", "Put away"):
            slug = workshop.records.create(title)
            workshop.records.add(slug, Statement(about="maker", says="Pell", grade="conjectured"))
        mark = Mark(reads="94·201", where="bed", grade="seen", purpose="serial number")
        workshop.records.add("first-head", mark)
        workshop.records.put_away("put-away")
        yield workshop


def there(folder):
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def test_the_whole_workshop_is_one_site(two, tmp_path):
    out = tmp_path / "site"
    asked = SiteAsked(base=BASE, title="An iron bench", call=CallAsked(keeper="R. Bell"))
    make_site(two, out, asked)
    files = there(out)
    assert {"index.html", "feed.atom", "sitemap.xml", "first-head/call.html"} <= files
    assert "second-head/call.html" not in files  # no number that others could compare with
    assert not {n for n in files if n.startswith("put-away") or n.endswith("head/feed.atom")}
    first = (out / "index.html").read_text(encoding="utf-8")
    assert "An iron bench" in first and "kept by R. Bell" in first and "Put away" not in first
    page = (out / "second-head" / "index.html").read_text(encoding="utf-8")
    assert f'<link rel="canonical" href="{BASE}/second-head/">' in page
    assert 'href="../feed.atom"' in page and "no other machine’s number is asked for" in page
    assert f"<loc>{BASE}/first-head/marks.html</loc>" in (out / "sitemap.xml").read_text("utf-8")


def test_made_again_only_what_changed_is_written(two, tmp_path):
    out = tmp_path / "site"
    make_site(two, out, SiteAsked(), slug="second-head")
    again = make_site(two, out, SiteAsked(), slug="second-head")
    assert not again.new + again.changed + again.removed
    two.records.add("second-head", Statement(about="model", says="No. 2", grade="seen"))
    later = make_site(two, out, SiteAsked(), slug="second-head")
    assert "index.html" in later.changed and "photographs.html" not in later.changed
    assert "sitemap.xml" not in there(out)


def test_the_command_says_what_it_did_and_what_was_not_said(two, tmp_path, capsys):
    words = ["site", "first-head", "--out", str(tmp_path / "s"), "--workshop", str(two.folder)]
    with pytest.raises(SystemExit) as ended:
        main([*words, "--json", str(tmp_path / "told.json")])
    assert ended.value.code in (0, None)
    said = " ".join(capsys.readouterr().out.split())
    assert "no sitemap is written" in said and "No mailbox was given" in said
    told = json.loads((tmp_path / "told.json").read_text(encoding="utf-8"))
    assert "call.html" in told["new"] and told["sitemap"] is False


def test_what_cannot_be_is_refused_and_nothing_is_written(two, tmp_path):
    out = tmp_path / "site"
    with pytest.raises(DossierError, match="no address of a folder"):
        make_site(two, out, SiteAsked(base="iron.example"), slug="first-head")
    with pytest.raises(IronlaceError, match="name the machine"):
        make_site(two, out, SiteAsked(call=CallAsked(where="bed")))
    with pytest.raises(IronlaceError, match="no address of a mailbox"):
        make_site(two, out, SiteAsked(call=CallAsked(mail="a b")), slug="first-head")
    with pytest.raises(IronlaceError):
        make_site(two, out, SiteAsked(), slug="nobody")
    assert not out.exists()
