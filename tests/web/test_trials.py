"""The log of trials on its page: added by hand, weighed, the next proposed, kept and verified."""

import pytest

from bench_visitor import Person
from ironlace.evidence.findings import Finding, Interval, Method, Result
from ironlace.evidence.grades import Grade
from ironlace.record import FindingEntry, Photograph, TrialEntry
from ironlace.running import BALANCE, SEAM, TRIALS
from ironlace.running.seam import balance_analysis, seam_analysis
from ironlace.web import create_app
from ironlace.workshop import Workshop, analyses
from ironlace.workshop.hand_over.verify import verify_record

from .browsing import DESKTOP, PHONE, in_first_screen, keep, serving, violations
from .conftest import jpeg, words

MACHINE = "/machine/lapwing-head"


def finding(analysis, asked, results):
    return FindingEntry(
        finding=Finding(
            about=analysis.about,
            value=results[0].value,
            grade=Grade.MEASURED,
            results=tuple(results),
            method=Method(name=analysis.method, parameters={"asked": asked}),
            version="1",
        )
    )


def seam_of(picture, mean, cv):
    told = {
        seam_analysis.MEAN: mean,
        seam_analysis.CV: cv,
        seam_analysis.SKIPS: 0,
        seam_analysis.STITCHES: 30,
        seam_analysis.SINGLE: 30,
        seam_analysis.SPREAD: cv,
        seam_analysis.AWAY: 0.8 * cv,
        seam_analysis.AWAY_SPREAD: 0.6 * cv,
    }
    results = [Result(name=k, value=v, grade=Grade.MEASURED) for k, v in told.items()]
    return finding(SEAM, {"photograph": picture, "dpi": 600.0, "strip": "none"}, results)


def lock_of(picture, under, lock):
    held = Interval(low=lock - 0.1, high=lock + 0.1, coverage=0.9)
    result = Result(name=balance_analysis.LOCK, value=lock, interval=held, grade=Grade.INFERRED)
    asked = {"upper": picture, "under": under, "upper_dpi": 600.0, "under_dpi": 600.0}
    return finding(BALANCE, asked, [result, result])


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("trials")
    with Workshop.create(folder / "my-workshop") as made:
        slug = made.records.create("Lapwing head")
        for n in range(3):
            (folder / f"{n}.jpg").write_bytes(jpeg(n))
            made.photographs.take_in_file(slug, folder / f"{n}.jpg", "stitch-out", f"seam {n + 1}")
        for n, (mean, cv, lock) in enumerate(((2.50, 0.09, 0.05), (2.51, 0.04, 0.25)), 1):
            made.records.add(slug, seam_of(f"photograph {n}", mean, cv), "")
            made.records.add(slug, lock_of(f"photograph {n}", "photograph 3", lock), "")
    return folder / "my-workshop"


def test_an_empty_log_and_a_bad_trial_are_told_in_a_sentence(workshop):
    app = create_app(workshop, foreman=False)
    person = Person(app)
    assert "Change one thing, sew a test seam" in words(person.get(f"{MACHINE}/trials"))
    said = person.post(f"{MACHINE}/trials", {"do": "add", "changed": "oil", "screw": "tight"})
    assert said.status_code == 422
    assert "'tight' is no number of eighths: write 3, 2.5 or -1." in words(said)
    said = person.post(f"{MACHINE}/trials", {"do": "add", "changed": ""})
    assert said.status_code == 422
    said = person.post(f"{MACHINE}/trials", {"do": "keep"})
    assert "There is no trial yet" in words(said)
    app.state.bench.workshop.close()
    with Workshop.open(workshop) as opened:
        assert not list(opened.records.read("lapwing-head").of(TrialEntry))


@pytest.mark.browser
def test_trials_are_added_weighed_and_kept(chromium, workshop):
    with serving(workshop, foreman=False) as address:
        page = chromium.new_context(viewport=DESKTOP).new_page()
        page.goto(f"{address}{MACHINE}/trials")
        for n, (changed, screw) in enumerate((("start", "4"), ("needle-thread screw", "3")), 1):
            page.get_by_label("What was changed since").select_option(changed)
            page.get_by_label("Where the needle thread's screw").focus()
            page.keyboard.type(screw)
            page.get_by_label("upper side").select_option(f"photograph {n}")
            page.get_by_label("When").fill(f"1894-02-0{n}")
            page.get_by_label("What came of it").fill("loops above" if n == 1 else "better")
            page.get_by_role("button", name="Add the trial").press("Enter")
            page.wait_for_url("**kept=trial*")
        page.get_by_text("Next: Turn the needle thread's screw 1 eighth of a turn out").wait_for()
        page.get_by_text("more even, 9.0% to 4.0%").wait_for()
        in_first_screen(page, page.get_by_text("Next: Turn the needle"))
        assert violations(page) == []
        keep(page, "trials-log")
        page.get_by_role("link", name="Write it down as done").click()
        screw = page.get_by_label("Where the needle thread's screw")
        assert (screw.input_value(), page.get_by_label("To what").input_value()) == (
            "2",
            "1 eighth of a turn out",
        )
        page.get_by_role("button", name="Keep this in the record").click()
        page.wait_for_url("**kept=finding*")

        narrow = chromium.new_context(viewport=PHONE, has_touch=True, color_scheme="dark")
        page = narrow.new_page()
        page.goto(f"{address}{MACHINE}/trials")
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        assert violations(page) == []
        keep(page, "trials-phone-dark")
    with Workshop.open(workshop) as opened:
        record = opened.records.read("lapwing-head")
        assert [entry.eighths for _, entry in record.of(TrialEntry)] == [4.0, 3.0]
        name, entry = analyses.kept_finding(record, TRIALS)
        assert entry.finding.value.startswith("Turn the needle thread's screw 1 eighth")
        told = {one.name: one for one in verify_record(opened, "lapwing-head")}
        assert told[name].same is True, told[name].says
        opened.records.add("lapwing-head", TrialEntry(changed="oil"), "")
        assert "changed" in analyses.stale(
            opened, opened.records.read("lapwing-head"), entry.finding
        )
        assert len(list(record.of(Photograph))) == 3
