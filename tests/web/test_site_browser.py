"""A stranger's round trip: the site from a disk, a report, the odds, the correction on the site."""

import re
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from PIL import Image, ImageDraw

from ironlace.cli import main
from ironlace.record import FindingEntry, Mark, PhotographRole, SentReport, Statement, Treatment
from ironlace.workshop import Workshop, analyses
from ironlace.workshop.hand_over.publishing import SiteAsked, make_site
from ironlace.workshop.survey.call_made import CallAsked
from ironlace.workshop.survey.reports_of_record import read_report_entries

from .browsing import DESKTOP, PHONE, amiss

pytestmark = pytest.mark.browser

SLUG = "test-head"
ROWS = "id,mark\na,C°92·38\nb,C°93·94\n"
BEGAN = datetime(2026, 1, 5, 9, tzinfo=UTC)


def picture(folder, name, shade):
    bed = Image.new("RGB", (800, 500), shade)
    draw = ImageDraw.Draw(bed)
    draw.rounded_rectangle((60, 120, 740, 430), 40, fill=tuple(c + 20 for c in shade))
    draw.text((300, 300), "C o 94 . 201", fill=(150, 140, 120), font_size=28)
    bed.save(folder / name)
    return folder / name


def dated(workshop):
    analysis, record = analyses.analysis_named("date"), workshop.records.read(SLUG)
    asked = analyses.asked_for(analysis, record, {})
    analyses.keep(workshop, SLUG, analyses.work_out(workshop, record, analysis, asked))


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """A workshop with a machine that is dated from two reports."""
    folder = tmp_path_factory.mktemp("stranger")
    with Workshop.create(folder / "workshop") as workshop:
        workshop.records.create("Test head", at=BEGAN)
        told = Statement(about="kind of machine", says="Lockstitch head", grade="seen")
        workshop.records.add(SLUG, told, at=BEGAN)
        mark = Mark(reads="C°94·201", where="bed, in front", grade="seen", purpose="serial number")
        workshop.records.add(SLUG, mark, at=BEGAN)
        later = BEGAN + timedelta(days=3)
        workshop.records.add_all(SLUG, read_report_entries(ROWS)[0], at=later)
        for name, shade, role in (
            ("bed.jpg", (38, 34, 31), PhotographRole.WHOLE),
            ("before.jpg", (70, 52, 31), PhotographRole.BEFORE),
            ("after.jpg", (24, 26, 31), PhotographRole.AFTER),
        ):
            file = picture(folder, name, shade)
            workshop.photographs.take_in_file(SLUG, file, role, f"The bed, {name[:-4]}")
        workshop.records.add(
            SLUG,
            Treatment(what="Cleaned the bed", done="Wiped.", aim="remedial conservation",
                      undoing="cannot be undone", before=["photograph 2"], after=["photograph 3"]),
        )  # fmt: skip
        dated(workshop)
        yield workshop, folder


ASKED = SiteAsked(call=CallAsked(mail="reports@owner.example", keeper="the keeper of Test head"))


def command(*words):
    with pytest.raises(SystemExit) as ended:
        main(list(words))
    assert ended.value.code in (0, None)


def test_a_report_goes_round_and_the_correction_shows(chromium, bench, tmp_path):
    """The site opened from the disk, the form filled, taken in, kept, and the site made again."""
    workshop, _ = bench
    site, at = tmp_path / "site", str(workshop.folder)
    make_site(workshop, site, ASKED, slug=SLUG)
    reader = chromium.new_context(viewport=PHONE, java_script_enabled=False)
    page = reader.new_page()
    page.goto((site / "index.html").as_uri())
    page.screenshot(path=tmp_path / "1-first-page.png", full_page=True)
    first = page.locator(".answer", has_text="When was it made?")
    before = first.locator(".says").inner_text()
    first.get_by_text("How do we know?").click()  # one click, and no script
    assert first.get_by_role("link", name="How it was worked out").is_visible()
    page.screenshot(path=tmp_path / "2-how-do-we-know.png")
    page.get_by_role("link", name="What to look for").click()
    page.locator("noscript pre").wait_for()  # the lines to copy into a mail
    page.screenshot(path=tmp_path / "3-call-without-script.png", full_page=True)

    sender = chromium.new_context(viewport=PHONE, accept_downloads=True)
    page = sender.new_page()
    page.goto((site / "index.html").as_uri())
    page.get_by_role("link", name="What to look for").click()
    page.get_by_label("The number reads").fill("C°94·917")
    page.get_by_label("the machine is before me").check()
    page.locator("#sender").fill("Anna Person")
    page.get_by_label("by my initials").check()
    page.get_by_role("button", name="Make my report").click()
    page.screenshot(path=tmp_path / "4-form-filled.png", full_page=True)
    link = urlsplit(page.locator("#mail").get_attribute("href"))
    assert link.path == "reports@owner.example"
    (tmp_path / "mail.txt").write_text(parse_qs(link.query)["body"][0], encoding="utf-8")
    with page.expect_download() as saved:
        page.locator("#save").click()
    saved.value.save_as(tmp_path / "report.txt")

    for file in ("mail.txt", "report.txt"):  # the same report twice is one
        command("survey", "tray", "take-in", SLUG, str(tmp_path / file), "--workshop", at)
    (sent,) = [name for name, _ in workshop.records.read(SLUG).of(SentReport)]
    command("survey", "tray", "decide", SLUG, sent, "kept", "--workshop", at)
    ((_, earlier),) = workshop.records.read(SLUG).of(FindingEntry)
    dated(workshop)
    ((_, later),) = workshop.records.read(SLUG).of(FindingEntry)
    assert earlier.finding.sentence != later.finding.sentence  # the odds changed

    written = make_site(workshop, site, ASKED, slug=SLUG)
    assert "corrections.html" in written.changed and not written.removed
    assert {n for n in written.same if n.startswith("pictures/")}
    page = reader.new_page()
    page.goto((site / "index.html").as_uri())
    page.screenshot(path=tmp_path / "5-first-page-again.png", full_page=True)
    page.get_by_role("link", name="What was said before").click()
    page.screenshot(path=tmp_path / "6-corrections.png", full_page=True)
    said = page.locator(".correction").inner_text()
    old = re.sub(r"\s*(seen|measured|inferred|conjectured)\s*$", "", before, flags=re.I)
    said = " ".join(said.split())
    assert " ".join(old.split()).casefold() in said.casefold()
    assert "report 3 (C°94·917) came in" in said
    assert "Person" not in page.content() and "A. P." not in page.content()
    reader.close()
    sender.close()


def test_every_page_is_accessible_and_prints(chromium, bench, tmp_path):
    workshop, _ = bench
    site = tmp_path / "site"
    make_site(workshop, site, ASKED, slug=SLUG)
    make_site(workshop, tmp_path / "whole", SiteAsked(title="An iron bench"))
    # the other pages are looked over in tests/dossier/site, out of a richer record
    pages = [site / f"{name}.html" for name in ("index", "corrections", "call")]
    pages.append(tmp_path / "whole" / "index.html")
    found = []
    for scheme, size in (("light", DESKTOP), ("dark", PHONE)):
        # the pages forbid scripts; the checker is one, so the policy is lifted for it alone
        context = chromium.new_context(viewport=size, color_scheme=scheme, bypass_csp=True)
        page = context.new_page()
        for path in pages:
            text = path.read_text(encoding="utf-8")
            if path.name == "call.html":  # as it is with no script: what stands for one shown
                text = re.sub(r"</?noscript>", "", text)
                text = re.sub(r"<script(?! type).*?</script>", "", text, flags=re.DOTALL)
                path = path.with_name("call-without.htm")  # noqa: PLW2901
                path.write_text(text, encoding="utf-8")
            page.goto(path.as_uri())
            named = f"{path.parent.name}-{path.stem}-{size['width']}-{scheme}"
            found += amiss(page, named)
            page.screenshot(path=tmp_path / f"{named}.png", full_page=True)
        context.close()
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((site / "index.html").as_uri())
    page.emulate_media(media="print")
    shown = page.locator(".how ul").first
    assert shown.is_visible()  # what a click opens stands open on paper
    page.pdf(path=tmp_path / "printed.pdf", format="A4", prefer_css_page_size=True)
    context.close()
    assert found == []
