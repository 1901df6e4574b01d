"""A test seam on its page: measured, kept, compared, its balance told; refusals in a sentence."""

import json

import numpy as np
import pytest
from PIL import Image

import locked_seams
from bench_visitor import Person
from ironlace.cli import main
from ironlace.record import FindingEntry, PhotographRole
from ironlace.running import BALANCE, SEAM, TWO_SEAMS
from ironlace.web import create_app
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.verify import verify_record

from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations
from .conftest import words

MACHINE = "/machine/lapwing-head"


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("seams")
    rng = np.random.default_rng(5)
    with Workshop.create(folder / "my-workshop") as made:
        slug = made.records.create("Lapwing head")
        sewn = locked_seams.locked("beads", rng, 0.1, 0.2, long_mm=46.0)
        for name, pixels in (("upper", sewn.upper), ("under", sewn.under)):
            file = folder / f"{name}.png"
            Image.fromarray(pixels).save(file, dpi=(600, 600))
            made.photographs.take_in_file(slug, file, PhotographRole.STITCH, f"{name} side")
        plain = folder / "plain.png"
        Image.fromarray(np.uint8(rng.normal(150, 3, (200, 900, 3)).clip(0, 255))).save(plain)
        made.photographs.take_in_file(slug, plain, PhotographRole.STITCH, "no seam")
    return folder / "my-workshop"


def test_what_cannot_be_measured_is_refused_in_a_sentence(workshop):
    app = create_app(workshop, foreman=False)
    person = Person(app)
    asked = {"do": "work", "photograph": "", "scale": "none", "dpi": "600", "side": "unsaid"}
    said = person.post(f"{MACHINE}/seam", asked)
    assert said.status_code == 422
    assert "Choose the picture of the seam first." in words(said)
    said = person.post(f"{MACHINE}/seam", {**asked, "photograph": "photograph 1", "dpi": ""})
    assert "The picture's scale is needed, one way" in words(said)
    said = person.post(f"{MACHINE}/seam", {**asked, "photograph": "photograph 3"})
    assert said.status_code == 422 or "Not reliable" in words(said)
    said = person.post(f"{MACHINE}/seam", {**asked, "photograph": "photograph 3", "scale": "seen"})
    assert "No strip's markers could be read" in words(said)
    said = person.post(f"{MACHINE}/seam", {"do": "balance", "upper": "photograph 1"})
    assert "Measure and keep the seam of each side first." in words(said)
    assert person.get(f"{MACHINE}/seam/marked/0.jpg?of=photograph+1").status_code == 404
    assert person.get(f"{MACHINE}/seam?of=photograph+1&against=photograph+2").status_code == 404
    assert person.get(f"{MACHINE}/work-out/seam").status_code == 303
    with Workshop.open(workshop) as opened:
        assert not list(opened.records.read("lapwing-head").of(FindingEntry))
    app.state.bench.workshop.close()


@pytest.mark.browser
def test_a_seam_is_measured_kept_compared_and_its_balance_told(chromium, workshop, tmp_path):
    with serving(workshop, foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/seam")
        for name in ("photograph 1", "photograph 2"):
            page.get_by_label("Scan or photograph of the seam").select_option(name)
            page.get_by_label("Dots to the inch, of a scan").fill("600")
            page.get_by_label("Sewn on and with").focus()
            page.keyboard.type("calico, two layers")
            page.get_by_role("button", name="Measure it").press("Enter")  # by keyboard
            keep_it = page.get_by_role("button", name="Keep this seam")
            keep_it.wait_for()
            page.wait_for_load_state("networkidle")
            in_first_screen(page, page.locator(".seam-told .lead"), keep_it)
            if name == "photograph 1":
                assert violations(page) == []
                keep(page, "seam-answer")
            keep_it.click()
            page.wait_for_url("**kept=**")
        page.get_by_role("button", name="Compare two seams").click()
        page.get_by_text("beyond chance").first.wait_for()
        page.wait_for_load_state("networkidle")
        assert violations(page) == []
        keep(page, "seam-two")
        page.get_by_role("button", name="Keep the comparison").click()
        page.wait_for_url("**kept=**")
        page.get_by_role("button", name="Tell the balance").click()
        page.get_by_text("The bobbin thread shows above").wait_for()
        page.wait_for_load_state("networkidle")
        assert violations(page) == []
        keep(page, "seam-balance")
        page.get_by_role("button", name="Keep the balance").click()
        page.wait_for_url("**kept=**")

        narrow = chromium.new_context(viewport=PHONE, has_touch=True, color_scheme="dark")
        page = narrow.new_page()
        page.goto(f"{address}{MACHINE}/seam?of=photograph+1")
        page.wait_for_load_state("networkidle")
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert violations(page) == []
        keep(page, "seam-phone-dark")
    with Workshop.open(workshop) as opened:
        record = opened.records.read("lapwing-head")
        about = [entry.finding.about for _, entry in record.of(FindingEntry)]
        assert about == [SEAM.about, SEAM.about, TWO_SEAMS.about, BALANCE.about]
        assert all(one.same for one in verify_record(opened, "lapwing-head"))
        kept = [entry.finding for _, entry in record.of(FindingEntry)][2]
    asked = ["--first", "photograph 1", "--second", "photograph 2"]
    asked += ["--first-dpi", "600", "--second-dpi", "600", "--json", str(tmp_path / "said.json")]
    with pytest.raises(SystemExit) as ended:
        main(["work-out", "seams", "lapwing-head", *asked, "--workshop", str(workshop)])
    assert ended.value.code in (0, None)
    said = json.loads((tmp_path / "said.json").read_text(encoding="utf-8"))["sentences"]
    assert said[0] in kept.sentence
