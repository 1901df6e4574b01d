"""Change gears against brute force, the rule of meshing, and refusals."""

import itertools

import numpy as np
import pytest

from ironlace.care.change_gears import GearsAsked, change_gears, lead_mm, mesh_rule
from ironlace.care.errors import CareError


def by_brute_force(lead, wanted, gears):
    """The smallest error in ppm over all trains of two and four gears."""
    errors = [lead * a / b / wanted - 1 for a, b in itertools.permutations(gears, 2)]
    errors += [
        lead * gears[a] * gears[c] / (gears[b] * gears[d]) / wanted - 1
        for a, b, c, d in itertools.permutations(range(len(gears)), 4)
    ]
    return min(map(abs, errors)) * 1e6


@pytest.mark.parametrize("seed", range(8))
def test_the_best_train_is_that_of_brute_force(seed):
    rng = np.random.default_rng(seed)
    gears = [int(t) for t in rng.choice(np.arange(20, 128), size=8, replace=False)]
    if seed % 2:
        gears.append(gears[0])
    wanted, lead = float(rng.uniform(0.3, 2.0)), ("8 tpi", "3 mm")[seed % 2]
    found = change_gears(GearsAsked(lead, tuple(gears), pitch_mm=wanted))
    assert abs(found.trains[0].error_ppm) == pytest.approx(
        by_brute_force(lead_mm(lead), wanted, gears), abs=1e-6
    )
    errors = [abs(one.error_ppm) for one in found.trains[:20]]
    assert errors == sorted(errors)


def test_of_all_gears_the_best_is_found_too():
    gears, wanted = np.arange(20, 128), 1.234
    found = change_gears(GearsAsked("8 tpi", tuple(gears.tolist()), pitch_mm=wanted))
    i, j = np.triu_indices(len(gears), 1)
    product = gears[i] * gears[j]
    least = 1.0
    for n in range(len(i)):
        apart = (i != i[n]) & (i != j[n]) & (j != i[n]) & (j != j[n])
        least = min(least, np.abs(3.175 * product[n] / product[apart] / wanted - 1).min())
    assert abs(found.trains[0].error_ppm) == pytest.approx(least * 1e6, abs=1e-6)


def test_no_gear_is_used_oftener_than_it_is_owned():
    found = change_gears(GearsAsked("8 tpi", (20, 20, 40, 60, 80), pitch_mm=3.175 / 8))
    for one in found.trains:
        used = [*one.drivers, *one.driven]
        assert all(used.count(teeth) <= (2 if teeth == 20 else 1) for teeth in used)
    assert any(one.drivers == (20, 20) for one in found.trains)


def test_a_train_is_in_an_order_that_meshes_where_there_is_one():
    rule = mesh_rule("a + b > c + 15 and c + d > b + 15")
    found = change_gears(GearsAsked("8 tpi", (20, 25, 60, 65, 80, 100), pitch_mm=0.5))
    for one in found.trains:
        if len(one.drivers) == 2:
            (a, c), (b, d) = one.drivers, one.driven
            assert rule(a, b, c, d) == one.meshes
            assert one.pitch_mm == pytest.approx(3.175 * a * c / (b * d))
    assert any(one.meshes for one in found.trains)


def test_a_bad_lot_is_called_not_good_enough():
    found = change_gears(GearsAsked("8 tpi", (20, 40, 60), pitch_mm=0.77, engaged_mm=8.0))
    assert not found.good_enough
    assert found.says.startswith("This is not good enough")
    assert found.trains[0].error_over_engaged_mm == pytest.approx(
        8.0 * found.trains[0].error_ppm * 1e-6
    )


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"gears": (40,)}, "needs a pair"),
        ({"gears": ()}, "needs a pair"),
        ({"gears": (40, 3)}, "3 teeth"),
        ({"lead": "8"}, "8 tpi"),
        ({"lead": "0 mm"}, "lead"),
        ({"tpi": 20.0}, "not both"),
        ({"pitch_mm": None}, "not both"),
        ({"mesh": "a + b > __import__"}, "cannot be read"),
    ],
)
def test_what_cannot_be_is_refused(change, says):
    asked = {"lead": "8 tpi", "gears": (20, 40, 60), "pitch_mm": 1.0, **change}
    with pytest.raises(CareError, match=says):
        change_gears(GearsAsked(**asked))
