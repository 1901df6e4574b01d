"""The walk of a newcomer, in the browser alone, and every page under the eyes of axe."""

import re

import pypdfium2
import pytest
from playwright.sync_api import expect

from ironlace.record import DrawingEntry, EntryKind, Photograph
from ironlace.workshop import Workshop
from ironlace.workshop.store.check import check_workshop

from .browsing import DESKTOP, PHONE, keep, photographs, serving, violations
from .browsing import keep as keep_picture

pytestmark = [pytest.mark.browser, pytest.mark.slow]
TITLE = "The long-shuttle head from the mill"
MACHINE = "/machine/the-long-shuttle-head-from-the-mill"
_LONG_MS = 120_000


class Walker:
    """A newcomer at the bench, and what the browser complained of meanwhile."""

    def __init__(self, chromium, address, *, keys=False, **options):
        self.context = chromium.new_context(base_url=address, accept_downloads=True, **options)
        self.keys = keys
        self.clicks = []
        # a click that a person makes, whether by pointer or by a key on what has the focus
        self.context.expose_function("counted", lambda said: self.clicks.append(said))  # noqa: PLW0108
        self.context.add_init_script(
            "document.addEventListener('click', (e) => { if (e.isTrusted) counted("
            "(e.target.closest('a, button, label, summary, input, select') ?? e.target)"
            ".textContent.trim().slice(0, 40)); }, true);"
        )
        self.page = self.context.new_page()
        self.complaints = []
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _heard(self, message):
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def fill(self, **fields):
        for label, value in fields.items():
            self.page.get_by_label(label.replace("_", " "), exact=False).first.fill(value)

    def touch(self, target, key="Enter"):
        """Click on something, or press a key on it once the focus is there and can be seen."""
        if not self.keys:
            target.click()
            return
        target.scroll_into_view_if_needed()
        target.focus()
        reached = target.evaluate("e => e === document.activeElement && e.tabIndex >= 0")
        assert reached, f"the keyboard does not reach {target}"
        leads_on = target.evaluate(
            "e => e.matches('a[href]:not([download]), form button:not([type=button])')"
        )
        if leads_on:
            with self.page.expect_event("domcontentloaded"):
                self.page.keyboard.press(key)
        else:
            self.page.keyboard.press(key)

    def grade(self, word):
        self.tick(self.page.locator(f"input[name=grade][value={word}]").first)

    def tick(self, target):
        """Tick a box or choose one of several."""
        if self.keys:
            self.touch(target, "Space")
            assert target.is_checked()
        else:
            target.check()

    def press(self, words):
        self.touch(self.page.get_by_role("button", name=words, exact=True).first)

    def follow(self, words):
        pages = self.page.get_by_role("button", name="Pages", exact=True)
        if pages.is_visible():  # on a phone the machine's pages stand behind it
            self.touch(pages)
        self.touch(self.page.get_by_role("link", name=words, exact=True).first)

    def step(self, title):
        self.touch(self.page.locator(".job").get_by_role("link", name=title, exact=True))

    def come_of(self, words):
        """Wait for a job to end, and follow the link to what came of it."""
        link = self.page.get_by_role("link", name=words)
        link.or_(self.page.locator(".fault")).first.wait_for(timeout=_LONG_MS)
        assert link.count(), self.page.locator(".fault").inner_text()
        self.touch(link)

    def kept(self, name):
        self.page.locator(".kept").get_by_role("link", name=name, exact=True).wait_for()


@pytest.fixture(scope="module")
def walked(chromium, tmp_path_factory, darkroom):
    """Walk once; the other tests look at what came of it."""
    folder = tmp_path_factory.mktemp("walk")
    Workshop.create(folder / "workshop").close()
    files = photographs(folder, darkroom)
    with serving(folder / "workshop") as address:
        walker = Walker(chromium, address, viewport=DESKTOP)
        walk(walker, files, folder)
        walker.context.close()
        yield folder, address, walker


@pytest.fixture(scope="module")
def walked_by_keys(chromium, tmp_path_factory, darkroom):
    """The same on a phone, in the dark, without a pointer."""
    folder = tmp_path_factory.mktemp("walk-by-keys")
    Workshop.create(folder / "workshop").close()
    files = photographs(folder, darkroom)
    with serving(folder / "workshop") as address:
        walker = Walker(chromium, address, keys=True, viewport=PHONE, color_scheme="dark")
        walk(walker, files, folder)
        walker.context.close()
        yield folder, address, walker


def walk(walker, files, folder):
    page = walker.page

    def keep(page, name):  # each walk keeps pictures of its own
        keep_picture(page, f"{name}-by-keys" if walker.keys else name)

    walker.keep = keep
    page.goto("/")
    keep(page, "01-workshop-empty")
    walker.fill(What_you_call_it=TITLE)
    walker.press("Begin its record")
    page.wait_for_url(f"**{MACHINE}")
    keep(page, "02-machine-new")

    # three photographs
    page.locator("#f-role").select_option("as found")
    page.locator("#f-files").set_input_files(files[:2])
    walker.press("Take them in")
    walker.kept("photograph 2")
    keep(page, "03-photographs-taken-in")
    walker.step("Draw the ornament")
    assert page.locator("#f-role").input_value() == "ornament"
    page.locator("#f-caption").fill("Scrollwork on the bed, strip laid round it")
    page.locator("#f-files").set_input_files(files[2])
    walker.press("Take them in")
    walker.kept("photograph 3")

    record_ten_facts(walker)
    keep(page, "05-machine-with-facts")
    date_it(walker)
    trace(walker)
    take_the_dossier(walker, folder)


def record_ten_facts(walker):
    page = walker.page
    page.goto(MACHINE)
    page.locator(".tag-head").click()
    walker.fill(What_happened="bought from the mill when it closed", When="2024-03")
    walker.grade("seen")
    walker.press("Keep this step of provenance")
    walker.kept("provenance 1")

    walker.fill(Reads="B°93.(4)[38]2", Where_it_stands="slide plate, underside")
    page.locator(".as-read .glyph").nth(7).wait_for()
    walker.tick(page.locator(".pick-print input").nth(1))
    walker.keep(page, "04-mark-being-written")
    walker.touch(page.locator("details.more > summary").first)
    page.get_by_label("What it seems to be for").fill("serial number")
    walker.grade("seen")
    walker.press("Keep this mark")
    walker.kept("mark 1")

    for says, grade in (
        ("lockstitch head for a hand crank", "seen"),
        ("a works marked B, unnamed", "conjectured"),
        ("long shuttle on an arc", "seen"),
    ):
        walker.fill(What_is_said=says)
        walker.grade(grade)
        walker.press("Keep this statement")
        page.locator(".kept").get_by_text(says).wait_for()

    for name, state, damage in (
        ("bed", "worn but serviceable", "gilt thin at the front edge"),
        ("face plate", "damaged", "bent at the lower corner"),
    ):
        page.get_by_label("Part needed").fill(name)
        page.get_by_label("State needed").select_option(state)
        walker.fill(Damage_seen=damage)
        walker.grade("seen")
        walker.press("Keep this part")
        page.locator(".kept").get_by_text(name).wait_for()

    walker.step("Get it sewing")
    walker.fill(What_was_measured="needle bar stroke", Reading="1 1/4 in ± 1/64 in")
    page.locator(".as-read").get_by_text("31.750 ± 0.397 mm").wait_for()
    walker.grade("measured")
    walker.press("Keep this measurement")
    walker.kept("measurement 1")

    walker.step("Treat, and keep the record")
    page.locator(".caution").nth(2).wait_for()
    walker.fill(What_the_work_is="old oil softened and wiped off the race")
    page.get_by_label("Done or intended").select_option("done")
    page.get_by_label("Aim needed").select_option("setting and repair of the mechanism")
    page.get_by_label("Can it be undone needed").select_option("nothing to undo")
    walker.press("Keep this treatment")
    walker.kept("treatment 1")

    walker.step("Tell what is open, and hand it over")
    walker.fill(What_is_not_known="Does the letter stand for the works?")
    walker.press("Keep this question")
    walker.kept("question 1")


def date_it(walker):
    page = walker.page
    walker.follow("Dating")
    walker.touch(page.locator("summary", has_text="Take in a table"))
    page.locator("#f-table").fill(
        "id,mark,seen\n"
        "coast,B°92.117,photograph\nschool,B°93.402,handled\nwidow,B°94.88,told\n"
        "fair,B°91.255,photograph\nmuseum,B°92.310,handled\n"
    )
    walker.press("Look it over")
    walker.keep(page, "06-reports-looked-over")
    walker.press("Keep the ticked ones")
    walker.touch(page.locator("summary", has_text="Theories of your own, typed"))
    page.get_by_label("Theories of your own").fill("letter, ring, year, dot, number in year")
    walker.touch(page.locator("button", has_text="Compare them"))
    page.locator(".verdict").wait_for()
    walker.keep(page, "07-theories-compared")
    walker.press("Keep this date in the record")
    walker.kept("finding 1")


def trace(walker):
    page = walker.page
    walker.follow("Ornament")
    walker.keep(page, "08-ornament")
    walker.follow("Trace photograph 3")
    page.locator(".picture-frame.live").wait_for()
    mark_places(walker)
    page.get_by_label("Strip in the picture").select_option("wrap")
    walker.keep(page, "09-places-marked")
    walker.press("Trace it")
    page.locator("progress").wait_for()
    walker.keep(page, "10-tracing")
    walker.come_of("See the drawing")
    page.wait_for_load_state("networkidle")  # its script has taken the slider over by then
    page.locator("#f-wipe").focus()
    for _ in range(15):
        page.keyboard.press("ArrowLeft")
    assert page.locator("#f-wipe").input_value() == "35"
    walker.keep(page, "11-drawing")
    whole = page.locator(".wipe-sheets").bounding_box()["width"]
    walker.press("Nearer")
    page.get_by_label("Let the photograph show through").check()
    sheets = page.locator(".wipe-sheets").bounding_box()["width"]
    assert sheets == pytest.approx(whole * 1.4, rel=0.02)
    walker.keep(page, "11-drawing-larger")


def mark_places(walker):
    """One place on bare japan by pointer, and taken away again; then one by keyboard."""
    page = walker.page
    frame = page.locator(".picture-frame")
    if walker.keys:
        return mark_by_keys(walker, frame)
    page.get_by_role("radio", name="bare japan").check()
    frame.scroll_into_view_if_needed()
    box = frame.locator("img").bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.52)
    ground = page.locator("textarea[name=ground]")
    x, y = (float(part) for part in ground.input_value().split(","))
    assert (x, y) == (pytest.approx(750, abs=4), pytest.approx(546, abs=4))
    walker.press("Take the last mark away")
    assert ground.input_value() == ""
    page.get_by_role("radio", name="nothing: it moves").check()
    return mark_by_keys(walker, frame)


def mark_by_keys(walker, frame):
    page = walker.page
    frame.focus()
    before = page.locator(".picture-scale").inner_text()
    page.keyboard.press("+")
    assert page.locator(".picture-scale").inner_text() != before
    page.keyboard.press("0")
    assert page.locator(".picture-scale").inner_text() == before


def take_the_dossier(walker, folder):
    page = walker.page
    walker.follow("Pack")
    walker.press("Make the pack")
    walker.come_of("Open the pack")
    walker.keep(page, "12-pack")
    with page.expect_download() as coming:
        walker.touch(page.get_by_role("link", name="Dossier, A4 (PDF)"))
    coming.value.save_as(folder / "dossier.pdf")
    with page.expect_download() as coming:
        walker.touch(page.get_by_role("link", name="All of it (zip)"))
    coming.value.save_as(folder / "pack.zip")
    walker.follow("Look at the site")
    page.get_by_text(TITLE).first.wait_for()
    walker.keep(page, "13-site")
    page.go_back()
    page.goto(MACHINE)
    walker.keep(page, "14-machine-at-the-end")


@pytest.mark.parametrize("way", ["walked", "walked_by_keys"])
def test_the_way_from_an_empty_workshop_to_the_pack_takes_few_clicks(request, way):
    """Sixty is what is asked of it; what is typed, chosen in a list or handed in is not counted."""
    _, _, walker = request.getfixturevalue(way)
    assert 20 < len(walker.clicks) <= 60, walker.clicks
    assert walker.complaints == []


def test_the_keyboard_alone_leaves_as_whole_a_record(walked, walked_by_keys):
    kinds = []
    for folder, _, _ in (walked, walked_by_keys):
        with Workshop.open(folder / "workshop") as workshop:
            record = workshop.records.read(MACHINE.rpartition("/")[2])
            kinds.append(sorted(f"{kind} {key}" for kind, key in record.entries))
            assert check_workshop(workshop).sound
    assert kinds[0] == kinds[1]


def test_the_walk_leaves_a_whole_record(walked):
    folder, _, _ = walked
    with Workshop.open(folder / "workshop") as workshop:
        record = workshop.records.read(MACHINE.rpartition("/")[2])
        assert len(list(record.of(Photograph))) == 3
        written = [
            k for k, _ in record.entries if k not in (EntryKind.PHOTOGRAPH, EntryKind.REPORT)
        ]
        by_hand = [k for k in written if k not in (EntryKind.FINDING, EntryKind.DRAWING)]
        assert len(by_hand) == 10
        assert record.named("mark 1").reads == "B°93·(4)[38]2"
        assert record.named("mark 1").photographs
        ((_, drawing),) = record.of(DrawingEntry)
        assert drawing.width_mm > 50
        assert check_workshop(workshop).sound


def test_the_dossier_came_down_and_tells_what_was_recorded(walked):
    folder, _, _ = walked
    document = pypdfium2.PdfDocument(folder / "dossier.pdf")
    text = " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)
    document.close()
    for said in (TITLE, "needle bar stroke", "conjectured", "Does the letter stand for the works?"):
        assert said.casefold() in text.casefold()
    assert (folder / "pack.zip").stat().st_size > 10_000


def test_the_browser_had_nothing_to_complain_of(walked):
    assert walked[2].complaints == []


PAGES = {
    "workshop": "/",
    "machine": MACHINE,
    "step": f"{MACHINE}?step=condition&kept=mark+1",
    "taking-in": f"{MACHINE}?step=take-in",
    "photographs": f"{MACHINE}/photographs",
    "photograph": f"{MACHINE}/entries/photograph/2",
    "mark": f"{MACHINE}/entries/mark/1",
    "mark-form": f"{MACHINE}/entries/mark/1/change",
    "treatment-form": f"{MACHINE}/entries/treatment/new",
    "statements": f"{MACHINE}/entries/statement",
    "finding": f"{MACHINE}/entries/finding/1",
    "drawing": f"{MACHINE}/entries/drawing/1",
    "ornament": f"{MACHINE}/ornament",
    "trace": f"{MACHINE}/ornament/trace/3",
    "dating": f"{MACHINE}/dating",
    "dating-compared": f"{MACHINE}/dating?compare=yes&schemes=letter,+ring,+year,+dot,+code",
    "pack": f"{MACHINE}/pack",
    "leaving": f"{MACHINE}/leaving",
    "package": f"{MACHINE}/package",
    "film": f"{MACHINE}/film?chapters=0:00+marks",
    "take-in": "/take-in",
    "whole-site": "/site",
    "job": "/job/1",
    "history": f"{MACHINE}/history",
    "as-it-stood": f"{MACHINE}/as-it-stood?on=2999-01-01",
    "care": "/care",
    "not-here": "/nothing",
}


@pytest.mark.parametrize(("where", "scheme"), [("desktop", "light"), ("phone", "dark")])
def test_every_page_is_accessible_and_fits(chromium, walked, scheme, where):
    _, address, _ = walked
    viewport = DESKTOP if where == "desktop" else PHONE
    walker = Walker(
        chromium,
        address,
        viewport=viewport,
        color_scheme=scheme,
        has_touch=where == "phone",
        reduced_motion="reduce",
        bypass_csp=True,  # axe puts its own script into the page
    )
    found = []
    for name, page_address in PAGES.items():
        walker.page.goto(page_address)
        for more in walker.page.locator("details").all():
            more.evaluate("d => { d.open = true }")
        keep(walker.page, f"page-{name}-{where}-{scheme}")
        width = walker.page.evaluate("document.documentElement.scrollWidth")
        if width > viewport["width"]:
            found.append(f"{name}: {width} px wide")
        for violation in violations(walker.page):
            nodes = "; ".join(node["html"][:160] for node in violation["nodes"][:3])
            found.append(f"{name}: {violation['id']}: {nodes}")
    walker.context.close()
    assert found == []


def test_targets_are_large_enough_for_an_oily_thumb(chromium, walked):
    """44 by 44 CSS pixels for buttons, fields and links that stand by themselves."""
    _, address, _ = walked
    walker = Walker(chromium, address, viewport=PHONE)
    small = []
    for name, page_address in PAGES.items():
        walker.page.goto(page_address)
        small += [
            f"{name}: {what}"
            for what in walker.page.evaluate(
                """() => [...document.querySelectorAll(
                  'button, .button, select, input:not([type=hidden]), summary, nav a, .step-title'
                )].filter((e) => e.checkVisibility()).filter((e) => {
                  const label = e.closest('label');
                  const box = (label ?? e).getBoundingClientRect();
                  return box.height < 43.5 || box.width < 43.5;
                }).map((e) => e.outerHTML.slice(0, 120))"""
            )
        ]
    walker.context.close()
    assert small == []


def test_the_keyboard_reaches_the_content_first_and_shows_where_it_is(chromium, walked):
    _, address, _ = walked
    walker = Walker(chromium, address, viewport=DESKTOP)
    page = walker.page
    page.goto(MACHINE)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "account"
    page.keyboard.press("Tab")
    shown = page.evaluate(
        "(() => { const s = getComputedStyle(document.activeElement);"
        " return document.activeElement.closest('main') !== null && s.outlineStyle })()"
    )
    assert shown == "solid"
    walker.context.close()


def test_a_large_photograph_fills_its_frame_and_is_shown_finer_when_near(chromium, walked):
    _, address, _ = walked
    walker = Walker(chromium, address, viewport=DESKTOP)
    page = walker.page
    page.goto(f"{MACHINE}/entries/photograph/1")
    page.locator(".picture-frame.live").wait_for()
    frame = page.locator(".picture-frame").bounding_box()
    image = page.locator(".picture-sheet img")
    shown = image.bounding_box()
    assert shown["height"] == pytest.approx(frame["height"], abs=2)
    assert shown["width"] / shown["height"] == pytest.approx(1.5, abs=0.01)
    assert image.get_attribute("src").endswith("1600.jpg")
    for _ in range(3):
        page.get_by_role("button", name="Nearer").click()
    # a finer view comes in its own time; waiting by script would break the bench's policy
    expect(page.locator(".picture-sheet img")).not_to_have_attribute(
        "src", re.compile(r"1600\.jpg$"), timeout=_LONG_MS
    )
    nearer = image.bounding_box()
    assert nearer["width"] == pytest.approx(shown["width"] * 1.4**3, rel=0.01)
    walker.context.close()


def test_two_fingers_bring_a_picture_nearer(chromium, walked):
    _, address, _ = walked
    walker = Walker(chromium, address, viewport=PHONE, has_touch=True)
    page = walker.page
    page.goto(f"{MACHINE}/entries/photograph/2")
    page.locator(".picture-frame.live").wait_for()
    page.locator(".picture-frame").scroll_into_view_if_needed()
    box = page.locator(".picture-frame").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    before = page.locator(".picture-sheet").evaluate("e => e.style.transform")
    session = walker.context.new_cdp_session(page)

    def touch(kind, apart):
        points = [
            {"x": middle[0] - apart, "y": middle[1], "id": 1},
            {"x": middle[0] + apart, "y": middle[1], "id": 2},
        ]
        session.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [] if kind == "touchEnd" else points},
        )

    touch("touchStart", 20)
    for apart in (30, 45, 60, 80):
        touch("touchMove", apart)
    touch("touchEnd", 80)
    after = page.locator(".picture-sheet").evaluate("e => e.style.transform")
    scale = [float(text.rpartition("scale(")[2].rstrip(")")) for text in (before, after)]
    assert scale[1] > scale[0] * 2
    walker.context.close()


def test_without_script_the_record_is_kept_all_the_same(chromium, walked, tmp_path, darkroom):
    _, address, _ = walked
    walker = Walker(chromium, address, viewport=PHONE, java_script_enabled=False)
    page = walker.page
    files = photographs(tmp_path, darkroom)
    page.goto("/")
    walker.fill(What_you_call_it="Without script")
    walker.press("Begin its record")
    page.locator("#f-role").select_option("as found")
    page.locator("#f-files").set_input_files(files[:2])
    walker.press("Take them in")
    walker.kept("photograph 2")
    walker.fill(What_happened="found in a shed")
    walker.grade("seen")
    walker.press("Keep this step of provenance")
    walker.kept("provenance 1")
    page.goto("/machine/without-script/entries/photograph/1")
    assert page.locator(".picture-sheet img").bounding_box()["width"] > 300
    page.goto("/machine/without-script/ornament/trace/1")
    page.locator("summary", has_text="as figures").click()
    page.locator("textarea[name=gilt]").fill("10, 10")
    walker.press("Trace it")
    page.locator(".fault").wait_for(timeout=_LONG_MS)  # no strip in it; the page asks again itself
    assert "strip" in page.locator(".fault").inner_text()
    walker.context.close()


def test_a_page_prints_without_its_tools(chromium, walked):
    _, address, _ = walked
    walker = Walker(chromium, address, viewport=DESKTOP)
    page = walker.page
    page.goto(MACHINE)
    page.emulate_media(media="print")
    assert not page.locator(".tag").is_visible()
    assert page.locator(".known .grade-line").first.is_visible()
    keep(page, "15-machine-printed")
    walker.context.close()
