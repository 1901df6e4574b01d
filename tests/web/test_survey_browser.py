"""The survey's pages in a real browser: fit on a phone, dark and light, by keyboard alone."""

import pytest

from ironlace.record import Mark, ReportEntry
from ironlace.survey.sharing.survey_zip import unzipped
from ironlace.workshop import Workshop
from ironlace.workshop.survey.reports_of_record import read_report_entries

from .browsing import DESKTOP, PHONE, amiss, serving

pytestmark = pytest.mark.browser

SLUG = "test-head"
ROWS = """id,mark,place,dated,dated_kind
a,C°92·38,north,1893,sold
b,C°93·94,,,
c,C°94·183,,,
d,C°94·183,,,
"""
FOREIGN = """Serial No.;Owner;Town
C°95.38;A. Person;Northport
;B. Person;Southport
"""
THREAD = "Anna: mine reads C°96.77 on the bed, paid $120 for it.\nBert: serial C97402 here."
THEORY = "schemes=works%3A+letter%2C+ring%2C+year%2C+dot%2C+number+in+year"


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("survey") / "workshop"
    with Workshop.create(folder) as workshop:
        workshop.records.create("Test head")
        mark = Mark(reads="C°94·201", where="bed", grade="seen", purpose="serial number")
        workshop.records.add(SLUG, mark)
        workshop.records.add_all(SLUG, read_report_entries(ROWS)[0])
    with serving(folder, foreman=False) as at:
        yield folder, f"{at}/machine/{SLUG}/dating"


def settle(page):
    """Wait until every answer that comes later has come."""
    page.locator("[data-later] >> text=Waits for the answer before it").first.wait_for(
        state="detached", timeout=120_000
    )
    page.locator("[data-later] progress").wait_for(state="detached", timeout=120_000)
    assert page.get_by_text("The bench gave no answer").count() == 0


@pytest.mark.parametrize(
    ("where", "scheme"), [(DESKTOP, "dark"), (PHONE, "light")], ids=["desktop", "phone"]
)
def test_every_survey_page_is_accessible_and_fits(chromium, address, scheme, where):
    _, dating = address
    context = chromium.new_context(viewport=where, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    complaints = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    found = []
    page.goto(dating)
    page.get_by_text("Take in a table, or another survey").click()
    page.get_by_text("Find numbers in text that people wrote").click()
    found += amiss(page, "dating")
    page.locator("#f-table").fill(FOREIGN)
    page.locator("form[action$='/table'] button").click()
    found += amiss(page, "columns")
    page.get_by_role("button", name="Look the reports over").click()
    found += amiss(page, "review")
    page.goto(dating)
    page.get_by_text("Find numbers in text that people wrote").click()
    page.locator("#f-thread").fill(THREAD)
    page.get_by_role("button", name="Find the numbers").click()
    found += amiss(page, "thread")
    page.locator("input[name=pick]:checked").uncheck()  # built like the machine's own number
    page.get_by_role("button", name="Keep the picked ones").click()
    found += amiss(page, "nothing picked")
    page.goto(f"{dating}/theory?{THEORY}&at=1")
    found += amiss(page, "theory")
    page.goto(f"{dating}/publish?title=T&compiled_by=C&issued=2031-05-04")
    found += amiss(page, "publish")
    page.goto(f"{dating}/more?{THEORY}")
    found += amiss(page, "more, at work")
    settle(page)
    page.get_by_text("The same as a table").first.wait_for()
    found += amiss(page, "more")
    page.goto(f"{dating}?compare=yes&{THEORY}")
    settle(page)
    page.get_by_text("Figures and method").click()
    found += amiss(page, "compared")
    context.close()
    assert found == []
    assert complaints == []


def test_a_number_in_a_text_becomes_a_report_by_keyboard_and_without_script(chromium, address):
    folder, dating = address
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(dating)
    page.get_by_text("Find numbers in text that people wrote").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.insert_text(THREAD)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Which of these are serial numbers?").wait_for()
    # ticked already, as it is built like the machine's own number
    page.locator("input[name=pick]:checked").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.insert_text("the one on the bed")
    page.keyboard.press("Enter")
    page.get_by_text("Kept:").wait_for()
    context.close()
    with Workshop.open(folder) as workshop:
        *_, (_, last) = workshop.records.read(SLUG).of(ReportEntry)
    assert (last.name, last.reads) == ("the one on the bed", "C°96·77")


def test_a_theory_is_put_together_by_keyboard(chromium, address):
    _, dating = address
    context = chromium.new_context(viewport=DESKTOP, java_script_enabled=False)
    page = context.new_page()
    page.goto(dating)
    page.get_by_role("link", name="Put a theory together from parts").focus()
    page.keyboard.press("Enter")
    for number, kind in enumerate(("letter", "separator: ring", "year")):
        page.locator(f"#f-what-{number}").focus()
        page.keyboard.type(kind)
    page.keyboard.press("Tab")
    page.locator("#f-name").focus()
    page.keyboard.insert_text("mine")
    # Enter in a field shows the line; it must not move or take out a part
    page.keyboard.press("Enter")
    page.get_by_text("mine: letter, ring, year", exact=True).wait_for()
    page.get_by_role("button", name="Add it to the theories and compare").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What the numbers say").wait_for()
    assert page.locator("#f-schemes").input_value() == "mine: letter, ring, year"
    context.close()


def test_the_survey_comes_down_as_a_zip(chromium, address, tmp_path):
    _, dating = address
    context = chromium.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{dating}/publish")
    page.get_by_label("Compiled by").fill("A Club")
    with page.expect_download() as coming:
        page.get_by_role("button", name="Take the survey along (zip)").click()
    coming.value.save_as(tmp_path / "s.zip")
    context.close()
    text, about, count = unzipped((tmp_path / "s.zip").read_bytes())
    assert about.compiled_by == "A Club"
    assert count >= 4
    assert text.startswith("id,mark")
