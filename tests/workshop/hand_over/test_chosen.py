"""What leaves is chosen: of fifty secrets none goes to strangers, whatever is written for them."""

import json
import shutil
from datetime import UTC, datetime

import pytest

from fifty_secrets import COSTS, ENTRIES, PRIVATE_SOURCES, SECRETS, gps_of, photographs, texts_of
from ironlace.cli import main
from ironlace.dossier.film.files import write_film
from ironlace.dossier.privacy import Audience
from ironlace.record import PhotographRole, parse_entry
from ironlace.workshop import Workshop, analyses
from ironlace.workshop.hand_over.bag_computed import verify_bag
from ironlace.workshop.hand_over.bagging import make_bag
from ironlace.workshop.hand_over.chosen import (
    ChoiceError,
    as_listed,
    choice_for,
    choose,
    said_of,
    things,
)
from ironlace.workshop.hand_over.filming import film_notes
from ironlace.workshop.hand_over.packing import account_from
from ironlace.workshop.hand_over.publishing import SiteAsked, make_site
from ironlace.workshop.hand_over.taking_over import take_over

MADE = datetime(2031, 5, 4, 12, tzinfo=UTC)


def filled(folder, **options):
    """A workshop with all fifty in it and a date computed from the reports."""
    workshop = Workshop.create(folder / "workshop")
    slug = workshop.records.create("Plover head no. 2")
    for file, how in photographs(folder):
        workshop.photographs.take_in_file(slug, file, PhotographRole.PART, **how)
    for payload in [*PRIVATE_SOURCES, *ENTRIES]:
        workshop.records.add(slug, parse_entry(payload), by=SECRETS[16])
    analysis, record = analyses.analysis_named("date"), workshop.records.read(slug)
    asked = analyses.asked_for(analysis, record, {})
    analyses.keep(workshop, slug, analyses.work_out(workshop, record, analysis, asked))
    return workshop, slug


@pytest.fixture(scope="module")
def bench(tmp_path_factory, add_drawing):
    workshop, slug = filled(tmp_path_factory.mktemp("fifty"))
    add_drawing(workshop, slug)
    yield workshop, slug
    workshop.close()


@pytest.fixture
def small(tmp_path):
    workshop, slug = filled(tmp_path)
    yield workshop, slug
    workshop.close()


def run(*words):
    with pytest.raises(SystemExit) as ended:
        main(list(words))
    return ended.value.code


def found_in(folder):
    """By secret: the files that tell it, in whatever way."""
    told = {}
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        texts = [path.relative_to(folder).as_posix(), *texts_of(path)]
        for secret in SECRETS:
            if any(secret in text for text in texts):
                told.setdefault(secret, []).append(path.name)
    return told


def test_of_fifty_secrets_none_goes_to_strangers(bench, tmp_path):
    make_bag(*bench, tmp_path / "bag", made=MADE)
    write_film(film_notes(*bench, "0:00 machine\n0:30 marks"), tmp_path / "bag" / "film", MADE)
    make_site(bench[0], tmp_path / "bag" / "public", SiteAsked(), slug=bench[1])
    shutil.make_archive(str(tmp_path / "bag" / "all"), "zip", tmp_path / "bag" / "data")
    assert found_in(tmp_path / "bag") == {}
    pictures = list((tmp_path / "bag").rglob("*.jpg"))
    assert pictures and not any(gps_of(p.read_bytes()) for p in pictures)


def test_costs_that_were_asked_for_go_and_nothing_else_does(bench):
    account = account_from(*bench, hours_and_costs=True)
    text = repr(account) + json.dumps(account.document, ensure_ascii=False)
    told = {secret for secret in SECRETS if secret in text}
    assert told == {SECRETS[n] for n in COSTS} - {SECRETS[18]}  # it is marked as private


def test_all_fifty_go_to_the_next_owner_but_for_costs(bench, tmp_path):
    """Which also proves that each can be found when it is there."""
    make_bag(*bench, tmp_path / "bag", private=True, made=MADE)
    assert set(found_in(tmp_path / "bag")) == set(SECRETS) - {SECRETS[n] for n in COSTS}


def test_each_thing_of_the_list_is_what_is_written(small, tmp_path):
    """The list says that a thing stays: then what it says is in no file, and the other way."""
    workshop, slug = small
    said = {
        "report 1: place": "leaves",
        "mark 1: who vouches": "leaves",
        "source 1": "leaves",
        "provenance 1": "leaves",
        "outlay 1": "leaves",
        "photograph 1: original": "leaves",
        "measurement 1": "stays",
    }
    choose(workshop, slug, Audience.STRANGERS, said, by="R. Bell", at=MADE)
    make_bag(workshop, slug, tmp_path / "bag", made=MADE)
    told = found_in(tmp_path / "bag")
    expected = {*SECRETS[0:6], SECRETS[10], SECRETS[11], *SECRETS[12:16], SECRETS[17], SECRETS[23]}
    assert set(told) == expected  # who vouches for the provenance still stays
    record = json.loads((tmp_path / "bag/data/record.json").read_text("utf-8"))
    assert "measurement 1" not in record["entries"]
    readme = " ".join((tmp_path / "bag/data/README.txt").read_text("utf-8").split())
    assert "But for 6 things that whoever packed it let out. By choice 1 thing more" in readme
    verified = verify_bag(tmp_path / "bag")
    assert verified.checked.faults == ()
    assert all(one.same is not False for one in verified.findings)
    listed = as_listed(things(workshop, slug, choice_for(workshop, slug)))
    assert {t["key"] for t in listed["leaves"] if t.get("chosen")} == {
        key for key, word in said.items() if word == "leaves"
    }
    held = {t["key"]: t for t in listed["held_back"]}
    assert held["measurement 1"]["chosen"] and "GPS" in json.dumps(listed["leaves"])
    assert set(said) & {t["key"] for t in listed["leaves"] + listed["held_back"]} == set(said)


def test_each_audience_has_a_choice_of_its_own_kept_with_its_date(small):
    workshop, slug = small
    choose(workshop, slug, Audience.NEXT_OWNER, {"report 1": "stays"}, by="R. Bell", at=MADE)
    choose(workshop, slug, Audience.NEXT_OWNER, {"report 2": "stays"})
    choose(workshop, slug, Audience.NEXT_OWNER, {"report 1": "usual"})
    assert said_of(workshop, slug, Audience.STRANGERS) == []
    first, *rest = said_of(workshop, slug, Audience.NEXT_OWNER)
    assert (first.made_at, first.made_by, first.said) == (MADE, "R. Bell", {"report 1": "stays"})
    assert len(rest) == 2
    assert choice_for(workshop, slug, private=True).changed == {"report 2": False}
    assert choice_for(workshop, slug).changed == {}


def test_what_stays_from_the_next_owner_is_in_no_version_of_its_history(small, tmp_path):
    workshop, slug = small
    said = {
        "provenance 1": "stays", "report 2: place": "stays", "photograph 3": "stays",
        "report 3: name": "stays", "mark 1: who vouches": "stays",
    }  # fmt: skip
    choose(workshop, slug, Audience.NEXT_OWNER, said)
    make_bag(workshop, slug, tmp_path / "bag", private=True, made=MADE)
    stays = {*SECRETS[2:7], SECRETS[0], SECRETS[27], SECRETS[30], SECRETS[49]}
    stays |= {SECRETS[n] for n in COSTS}
    assert set(SECRETS) - set(found_in(tmp_path / "bag")) == stays
    with Workshop.create(tmp_path / "elsewhere") as elsewhere:
        taken = take_over(elsewhere, tmp_path / "bag", at=MADE)
        again = make_bag(elsewhere, taken.slug, tmp_path / "again", private=True, made=MADE)
    for name in ("record.json", "datacite.json", "CITATION.cff"):
        assert (again / "data" / name).read_bytes() == (tmp_path / "bag/data" / name).read_bytes()


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"report 9": "stays"}, "nothing called"),
        ({"report 1: colour": "leaves"}, "nothing called"),
        ({"report 1": "maybe"}, "leaves, stays or usual"),
        ({"history": "leaves"}, "never goes to strangers"),
        ({}, "Nothing was chosen"),
    ],
)
def test_a_choice_that_cannot_be_is_refused_and_nothing_kept(small, said, says):
    with pytest.raises(ChoiceError, match=says):
        choose(*small, Audience.STRANGERS, {**said, **({"mark 1": "stays"} if said else {})})
    assert said_of(*small, Audience.STRANGERS) == []


def test_words_that_stay_and_stand_elsewhere_are_pointed_at(small):
    workshop, slug = small
    said = f"bought with the help of {SECRETS[3].upper()}"
    for asks in (said, f"un{SECRETS[3]}ed, as part of another word"):
        workshop.records.add(slug, parse_entry({"kind": "question", "asks": asks}))
    held = {t.key: t for t in things(workshop, slug, choice_for(workshop, slug))}
    assert held["provenance 1"].also_in == ("question 1",)
    assert [key for key, t in held.items() if t.also_in] == ["provenance 1"]


def test_somebody_elses_photograph_without_rights_stays(small):
    workshop, slug = small
    name = "photograph 1"
    entry = workshop.records.read(slug).named(name)
    theirs = entry.model_copy(update={"credit": "R. Bell"})
    workshop.records.change(slug, name, theirs)
    (thing,) = [t for t in things(workshop, slug, choice_for(workshop, slug)) if t.key == name]
    assert not thing.leaves and "no rights are said" in thing.why


def test_the_command_lists_and_changes_by_the_same_route(small, tmp_path, capsys):
    workshop, slug = small
    change, out = tmp_path / "choice.json", tmp_path / "list.json"
    words = ["leaving", slug, "--workshop", str(workshop.folder), "--json", str(out)]
    change.write_text(
        json.dumps({"report 1: place": "leaves", "part 1": "stays"}), encoding="utf-8"
    )
    assert run(*words, "--change", str(change), "--by", "R. Bell") == 0
    assert "held back by choice" in capsys.readouterr().out
    told = json.loads(out.read_text(encoding="utf-8"))
    choice = choice_for(workshop, slug)
    assert choice.changed == {"report 1: place": True, "part 1": False}
    assert {k: told[k] for k in ("leaves", "held_back")} == as_listed(
        things(workshop, slug, choice)
    )
    assert said_of(workshop, slug, Audience.STRANGERS)[0].made_by == "R. Bell"
    change.write_text("[]", encoding="utf-8")
    assert run(*words, "--change", str(change)) == 2
    assert "does not hold a choice" in capsys.readouterr().err
    assert run("leaving", slug, "--workshop", str(workshop.folder), "--for", "next owner") == 0
    assert "For next owner" in capsys.readouterr().out
