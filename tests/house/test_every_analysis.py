"""What holds of every analysis by its declaration: page, command, finding, account, manual."""

import json
import re
from html import unescape
from pathlib import Path

import pytest

from bench_visitor import Person
from ironlace.cli.program import main
from ironlace.dossier import account_of
from ironlace.evidence.analyses import asked_fields
from ironlace.evidence.errors import IronlaceError
from ironlace.record import parse_entry
from ironlace.web.pages.analyses import OWN_PAGES, SECTIONS
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.verify import verify_record

DOCS = Path(__file__).parents[2] / "docs"
EVERY = pytest.mark.parametrize("analysis", analyses.ALL, ids=lambda one: one.key)
MARKS = ("4.93.217", "11.94.30", "7.92.412", "2.95.118", "9.93.55", "4.93.217")


def examples(analysis):
    """A value for each needed field, as its declaration gives one for example."""
    return {one.name: one.ask.example for one in asked_fields(analysis.asked) if one.required}


@pytest.fixture
def machine(workshop, slug, add_drawing):
    """A record with a mark, reports (one seen twice), a measurement and a drawing."""
    entries = [
        {"kind": "mark", "reads": "6.93.88", "where": "bed", "grade": "seen", "purpose": "serial"},
        {"kind": "measurement", "what": "wheel", "reads": "70.0 ± 0.1 mm", "grade": "measured"},
    ]
    entries += [
        {"kind": "report", "name": f"head {n}", "reads": m, "grade": "seen", "sighted": f"203{n}"}
        for n, m in enumerate(MARKS)
    ]
    workshop.records.add_all(slug, [parse_entry(entry) for entry in entries])
    add_drawing(workshop, slug)
    return slug


def computed(workshop, slug, analysis):
    """Worked out from the examples of its declaration, on the record."""
    record = workshop.records.read(slug)
    asked = analyses.asked_for(analysis, record, examples(analysis))
    return analyses.work_out(workshop, record, analysis, asked)


def typed_ones():
    """The analyses that a form or a command can ask everything of, and that no picture is needed
    for: those are tested where pictures are made.
    """
    return [
        a
        for a in analyses.ALL
        if not any(f.ask.pointed or f.ask.names == "photograph" for f in asked_fields(a.asked))
    ]


TYPED = pytest.mark.parametrize("analysis", typed_ones(), ids=lambda one: one.key)


def test_no_two_share_a_key_or_what_they_are_about():
    for of in (lambda a: a.key, lambda a: a.about):
        said = [of(one) for one in analyses.ALL]
        assert len(said) == len(set(said))


@EVERY
def test_it_is_declared_whole(analysis):
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", analysis.key)
    assert analysis.question.endswith("?")
    assert analysis.section in SECTIONS
    assert analysis.method
    for one in asked_fields(analysis.asked):
        assert one.ask.words, one.name
        assert not one.required or one.ask.example or one.options or one.ask.pointed, one.name
    analyses.binding_of(analysis)


@EVERY
def test_the_manual_has_its_heading(analysis):
    headings = [
        line.lstrip("# ").strip()
        for file in DOCS.glob("*.md")
        for line in file.read_text(encoding="utf-8").splitlines()
        if line.startswith("#")
    ]
    assert analysis.question in headings


@TYPED
def test_its_finding_is_kept_told_and_verified(analysis, workshop, machine):
    worked = computed(workshop, machine, analysis)
    assert worked.answer.sentences
    name = analyses.keep(workshop, machine, worked)
    record = workshop.records.read(machine)
    assert analyses.stale(workshop, record, record.named(name).finding) == ""
    verified = {one.name: one for one in verify_record(workshop, machine)}
    assert verified[name].same is True, verified[name].says
    told = repr(account_of(record, {}, {}))
    assert worked.answer.sentences[0][:60] in told


@TYPED
def test_nothing_to_work_on_is_refused_in_one_sentence(analysis, workshop, slug):
    needed = [one for one in asked_fields(analysis.asked) if one.required]
    record = workshop.records.read(slug)
    with pytest.raises(IronlaceError) as caught:
        asked = analyses.asked_for(analysis, record, {})
        analyses.work_out(workshop, record, analysis, asked)
    said = str(caught.value)
    assert said.endswith(".")
    assert "\n" not in said
    if needed:
        assert needed[0].ask.words in said


@TYPED
def test_page_and_command_give_the_same_answer(
    analysis, tmp_path, machine, workshop, monkeypatch, capsys
):
    from ironlace.web import create_app

    folder = workshop.folder
    values = examples(analysis)
    options = [
        word for name, value in values.items() for word in (f"--{name.replace('_', '-')}", value)
    ]
    file = tmp_path / "said.json"
    main_words = ["work-out", analysis.key, machine, *options, "--workshop", str(folder)]
    with pytest.raises(SystemExit) as ended:
        main([*main_words, "--json", str(file)])
    assert ended.value.code in (0, None)
    said = json.loads(file.read_text(encoding="utf-8"))["sentences"]
    app = create_app(folder, foreman=False)
    person = Person(app)
    if analysis.key in OWN_PAGES:
        assert person.get(f"/machine/{machine}/work-out/{analysis.key}").status_code == 303
    page = unescape(person.post(f"/machine/{machine}/work-out/{analysis.key}", values).text)
    for sentence in said:
        assert sentence in page
    app.state.bench.workshop.close()
