"""The page that says how to add an analysis is true: this adds one by it."""

import re
import sys
import types
from html import unescape
from pathlib import Path

import pytest

from bench_visitor import Person
from ironlace.web import create_app
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.verify import verify_record

PAGE = Path(__file__).parents[2] / "docs" / "add-an-analysis.md"


@pytest.fixture
def added(monkeypatch):
    """The analysis of the page, added to its room as the page says."""
    text = PAGE.read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", text, re.DOTALL)[1]
    module = types.ModuleType("ironlace.stand.handle_force")
    monkeypatch.setitem(sys.modules, module.__name__, module)
    exec(compile(code, str(PAGE), "exec"), module.__dict__)
    room = (*analyses.ROOMS["stand"], module.HANDLE_FORCE)
    monkeypatch.setattr(analyses, "ROOMS", {**analyses.ROOMS, "stand": room})
    monkeypatch.setattr(analyses, "ALL", (*analyses.ALL, module.HANDLE_FORCE))
    return module.HANDLE_FORCE


def test_its_page_works_it_out_and_keeps_it(added, workshop, slug):
    app = create_app(workshop.folder, foreman=False)
    person = Person(app)
    address = f"/machine/{slug}/work-out/{added.key}"
    assert added.question in unescape(person.get(f"/machine/{slug}/work-out").text)
    form = person.get(address).text
    assert "Torque at the hand wheel" in form
    values = {"torque": "0.96 N*m", "radius": "80 mm"}
    assert "The handle takes 12 N." in person.post(address, values).text
    assert "Kept: " in person.post(f"{address}/keep", values).text
    (verified,) = verify_record(workshop, slug)
    assert verified.same is True
    app.state.bench.workshop.close()


def test_its_commands_are_there(added, workshop, slug, capsys):
    import typer

    from ironlace.cli.analysis_groups import add_to

    app = typer.Typer()
    add_to(app)
    words = ["stand", "handle-force", "--torque", "0.96 N*m", "--radius", "80"]
    app(args=words, standalone_mode=False)
    assert "The handle takes 12 N." in capsys.readouterr().out
    words = ["work-out", "handle-force", slug, "--torque=0.96 N*m", "--radius=80", "--keep"]
    app(args=[*words, "--workshop", str(workshop.folder)], standalone_mode=False)
    assert "Kept as finding 1." in capsys.readouterr().out


def test_the_page_names_what_there_is():
    for name in re.findall(r"`(src/[\w/.]+|workshop/[\w/.]+|web/[\w/.]+)`", PAGE.read_text()):
        if name.endswith("handle_force.py"):
            continue
        place = Path(__file__).parents[2] / (
            name if name.startswith("src") else f"src/ironlace/{name}"
        )
        assert place.exists(), name
