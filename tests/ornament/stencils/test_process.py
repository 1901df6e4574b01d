import math
import re

import pytest

from ironlace.ornament.stencils import (
    ProcessError,
    known_process,
    known_process_text,
    known_processes,
    process_toml,
    read_process,
)


@pytest.mark.parametrize("name", known_processes())
def test_every_value_of_a_shipped_process_tells_its_source(name):
    process = known_process(name)
    assert set(process.sources.values()) <= {
        "common practice, no source",
        "from memory, handbook order of size",
    }


@pytest.mark.parametrize("name", known_processes())
def test_a_process_written_is_read_back_the_same(name):
    process = known_process(name)
    again = read_process(process_toml(process))
    assert repr(again) == repr(process)


def test_the_laser_process_warns_of_pvc():
    assert "laser and PVC" in known_process("film-laser").cautions


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[cut]", "[cutting]", "unknown value"),
        ("kerf_mm = { value = 0.15", "kerf_mm = { value = -0.15", "0 to 2 is needed"),
        ("kerf_mm = { value = 0.15", 'kerf_mm = { value = "thin"', "write kerf_mm"),
        ("kerf_mm = ", "kerf = ", "unknown value 'kerf'"),
        ('kind = "cut film"', 'kind = "paper"', "kind 'paper' is not known"),
        ("bridge_width_mm = { value = 0.8", "bridge_width_mm = { value = 0.1", "narrower than"),
        ("[process]", "[process", "not TOML"),
        ('name = "', 'title = "', "no name"),
    ],
)
def test_a_bad_process_file_is_refused_with_the_reason(old, new, words):
    text = known_process_text("film-laser")
    assert old in text
    with pytest.raises(ProcessError, match=words.replace("[", r"\[")):
        read_process(text.replace(old, new, 1))


def test_a_missing_value_is_named_with_its_meaning():
    text = "\n".join(
        line for line in known_process_text("film-laser").splitlines() if "kerf_mm" not in line
    )
    with pytest.raises(ProcessError, match=r"no kerf_mm .* under \[cut\]"):
        read_process(text)


def test_least_line_of_a_mesh_follows_its_threads():
    mesh = known_process("mesh-emulsion")
    assert mesh.least_line_mm == pytest.approx(2 * 10 / 120)
    assert math.isnan(known_process("film-knife").mesh_per_cm)


@pytest.mark.parametrize(("extent", "count"), [(1.0, 1), (2.5, 1), (10.0, 2), (30.0, 2), (31.0, 3)])
def test_larger_islands_want_more_bridges(laser, extent, count):
    assert laser.bridges_wanted(extent) == count


@pytest.mark.parametrize("name", known_processes())
def test_cautions_follow_from_cutter_and_material_and_cannot_be_emptied(name):
    shipped = known_process(name)
    text = re.sub(r"cautions = .*", "cautions = []", known_process_text(name))
    emptied = read_process(text)
    assert "solvents" in emptied.cautions
    assert set(emptied.cautions) <= {*shipped.cautions, "solvents", "sharp edges", "acids"}
    if shipped.cutter == "laser":
        assert {"laser and PVC", "laser fire and fume"} <= set(emptied.cautions)
    own = read_process(re.sub(r"cautions = .*", 'cautions = ["a loose table"]', text))
    assert own.cautions[0] == "a loose table" and set(emptied.cautions) < set(own.cautions)
