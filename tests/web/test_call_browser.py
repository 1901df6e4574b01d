"""A stranger's round trip: the call opened from a disk, filled in, sent back, kept, counted."""

import re
from datetime import UTC, datetime
from urllib.parse import parse_qs, urlsplit

import pytest
from PIL import Image, ImageDraw

from ironlace.record import Mark, PhotographRole, ReportEntry
from ironlace.survey.sharing.report_block import compose, folded, reports_in
from ironlace.workshop import Workshop
from ironlace.workshop.survey.call_made import CallAsked, call_files
from ironlace.workshop.survey.reports_of_record import read_report_entries

from .browsing import DESKTOP, PHONE, amiss, keep, serving

pytestmark = pytest.mark.browser

SLUG = "test-head"
MADE = datetime(2031, 5, 4, tzinfo=UTC)
ROWS = "id,mark\na,C°92·38\nb,C°93·94\n"
ODD = "“it’s” — so…  a > b | c\u00a0d + e: é e\u0301 🙂 \u200b ‘x’ −− +"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A workshop that is served, and the page of its call on the disk."""
    folder = tmp_path_factory.mktemp("call")
    with Workshop.create(folder / "workshop") as workshop:
        workshop.records.create("Test head")
        mark = Mark(reads="C°94·201", where="bed, in front", grade="seen", purpose="serial number")
        workshop.records.add(SLUG, mark)
        workshop.records.add_all(SLUG, read_report_entries(ROWS)[0])
        bed = Image.new("RGB", (800, 500), (38, 34, 31))
        draw = ImageDraw.Draw(bed)
        draw.rounded_rectangle((60, 120, 740, 430), 40, fill=(58, 52, 46))
        draw.text((300, 300), "C o 94 . 201", fill=(150, 140, 120), font_size=28)
        bed.save(folder / "bed.jpg")
        workshop.photographs.take_in_file(
            SLUG, folder / "bed.jpg", PhotographRole.MARK, "The bed from above"
        )
        record = workshop.records.read(SLUG)
        for name, asked in (
            ("call", CallAsked(mail="reports@owner.example", keeper="the keeper of Test head")),
            ("shown", CallAsked(photograph="photograph 1", at="40,62")),
        ):
            page = call_files(workshop, record, asked, MADE, ["call.html"])["call.html"]
            (folder / f"{name}.html").write_bytes(page)
    with serving(folder / "workshop", foreman=False) as at:
        yield folder, f"{at}/machine/{SLUG}"


def mail_of(page):
    """To whom the composed mail goes, and its text."""
    link = urlsplit(page.locator("#mail").get_attribute("href"))
    asked = parse_qs(link.query, strict_parsing=True)
    assert set(asked) == {"subject", "body"}
    return link.path, asked["body"][0]


def odds(page, address):
    page.goto(f"{address}/dating?compare=yes")
    page.get_by_text("Figures and method").click()
    return page.locator("table.theories").inner_text()


def test_a_strangers_report_goes_round_and_moves_the_odds(chromium, made, tmp_path):
    folder, address = made
    context = chromium.new_context(viewport=PHONE, accept_downloads=True)
    asked_for = []
    context.on("request", lambda request: asked_for.append(request.url))
    page = context.new_page()
    before = odds(page, address)
    asked_for.clear()
    page.goto((folder / "call.html").as_uri())
    # by keyboard alone: the number, then on through the form
    page.get_by_label("The number reads").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Shift+Tab")
    page.keyboard.insert_text("C°95.1164")
    page.keyboard.press("Tab")
    page.keyboard.insert_text("bed, in front")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    for text in ("14 May 1895", "receipt", "Northport"):
        page.keyboard.press("Tab")
        page.keyboard.insert_text(text)
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.insert_text("It’s “clear” — all of it")
    page.keyboard.press("Tab")
    page.keyboard.insert_text("Anna Person")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")  # by my initials
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_text("Your report is ready").wait_for()
    assert page.evaluate("document.activeElement.id") == "mail"
    keep(page, "call-filled-390")
    to, text = mail_of(page)
    assert to == "reports@owner.example"
    with page.expect_download() as saved:
        page.locator("#save").click()
    saved.value.save_as(tmp_path / "report.txt")
    assert (tmp_path / "report.txt").read_text(encoding="utf-8") == text.replace("\r\n", "\n")
    assert [url for url in asked_for if not url.startswith(("file:", "blob:"))] == []
    # at home: the mail's text, then the file, which is the same report
    page.goto(f"{address}/tray")
    page.get_by_label("Or the text of a mail").fill("> " + text.replace("\r\n", "\n> "))
    page.get_by_role("button", name="Lay it into the tray").click()
    page.get_by_text("1 report waits for you").wait_for()
    page.get_by_label("Files").set_input_files(tmp_path / "report.txt")
    page.get_by_role("button", name="Lay it into the tray").click()
    page.get_by_text("Came before with the same words: sent 1").wait_for()
    assert page.get_by_text("its check holds").count() == 1
    keep(page, "tray-waiting-390")
    assert odds(page, address) == before  # what waits counts nowhere
    page.goto(f"{address}/tray")
    page.get_by_label("Keep it: it counts").focus()
    page.keyboard.press("Space")
    page.get_by_role("button", name="Decide on sent 1").press("Enter")
    page.get_by_text("Kept:").wait_for()
    assert page.get_by_text("A. P.: C°95.1164").count() == 1
    keep(page, "tray-decided-390")
    after = odds(page, address)
    assert after != before
    page.goto(f"{address}/tray")
    page.get_by_role("button", name="Take the decision on sent 1 back").click()
    page.get_by_text("1 report waits for you").wait_for()
    assert odds(page, address) == before
    context.close()
    with Workshop.open(folder / "workshop") as workshop:
        assert sum(1 for _ in workshop.records.read(SLUG).of(ReportEntry)) == 2


def test_the_page_composes_as_the_program_reads(chromium, made):
    folder, _ = made
    page = chromium.new_page()
    page.goto((folder / "call.html").as_uri())
    for remarks in (ODD, "z" * 2000, "a\nb\n\n+ Place: c\n" * 9, "é🙂" * 900):
        page.get_by_label("The number reads").fill("C°95.1164")
        page.locator("#remarks").fill(remarks)
        page.get_by_role("button", name="Make my report").click()
        text = page.locator("#lines").inner_text()
        (found,) = reports_in(text)
        assert found.whole is True
        answers = found.of("answers")
        typed = page.locator("#remarks").input_value()
        sent = {"answers": answers, "reads": "C°95.1164", "remarks": typed}
        assert text.rstrip("\n") == compose(sent).rstrip("\n")
        _, body = mail_of(page)
        link = page.locator("#mail").get_attribute("href")
        assert len(link) <= 1900
        assert body.replace("\r\n", "\n") == text or "I attach" in body
    page.locator("#reads").fill("  ")
    page.get_by_role("button", name="Make my report").click()
    page.get_by_text("Write how the number reads").wait_for()
    assert folded(page.locator("#reads").input_value()) == ""
    page.close()


@pytest.mark.parametrize(
    ("where", "scheme"), [(DESKTOP, "dark"), (PHONE, "light")], ids=["desktop", "phone"]
)
def test_the_pages_are_accessible_and_fit(chromium, made, scheme, where):
    folder, address = made
    context = chromium.new_context(viewport=where, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    complaints = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    named = f"{where['width']}-{scheme}"
    found = []
    for name in ("call", "shown"):
        page.goto((folder / f"{name}.html").as_uri())
        if name == "call":
            page.get_by_label("The number reads").fill("C°95.1164")
            page.get_by_role("button", name="Make my report").click()
            page.locator("#done").wait_for()
        found += amiss(page, name)
        keep(page, f"{name}-{named}")
    page.goto(f"{address}/dating/call?mail=a@b.example")
    found += amiss(page, "asking")
    keep(page, f"asking-{named}")
    page.goto(f"{address}/tray")
    page.get_by_label("Or the text of a mail").fill("Mine reads C°92.38, the other C°96.77.")
    page.get_by_role("button", name="Lay it into the tray").click()
    page.locator("#waiting").wait_for()
    page.get_by_role("button", name="Decide on").first.click()
    page.get_by_text("nothing is chosen beforehand").wait_for()
    found += amiss(page, "tray")
    keep(page, f"tray-{named}")
    context.close()
    assert found == []
    assert complaints == []


def test_without_a_script_it_tells_what_to_write_and_to_whom(chromium, made):
    folder, _ = made
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto((folder / "call.html").as_uri())
    assert not page.locator("#report").is_visible()
    link = page.get_by_role("link", name=re.compile("reports@owner.example"))
    body = parse_qs(urlsplit(link.get_attribute("href")).query)["body"][0]
    shown = page.locator("noscript pre").inner_text()
    assert body.replace("\r\n", "\n").strip() == shown.strip()
    keep(page, "call-without-script-390")
    page.goto((folder / "shown.html").as_uri())
    assert "No address was given with this call" in page.inner_text("main")
    context.close()
