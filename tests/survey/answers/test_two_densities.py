import math

import numpy as np
import pytest

from ironlace.survey import COUNT
from ironlace.survey.answers.totals import total_from_one
from ironlace.survey.answers.two_densities import two_densities


def drawn(rng, low, high, dense, thin):
    below = rng.choice(low, dense, replace=False) + 1
    return [*below.tolist(), *(low + rng.choice(high, thin, replace=False) + 1).tolist()]


def test_a_thick_stretch_below_a_thin_one_is_noticed_and_allowed_for():
    rng = np.random.default_rng(4)
    noticed, inside, naive = [], [], []
    for _ in range(80):
        numbers = drawn(rng, 1000, 6000, 24, 9)
        found = two_densities(numbers)
        noticed.append(found.found and found.times > 1)
        inside.append(found.total.low <= 7000 <= found.total.high)
        one = total_from_one(numbers)
        naive.append(one.low <= 7000 <= one.high)
    assert np.mean(noticed) > 0.95
    assert np.mean(inside) > 0.82
    assert np.mean(naive) < np.mean(inside) - 0.1


def test_one_even_series_is_left_alone():
    rng = np.random.default_rng(5)
    alarms = [
        two_densities(rng.choice(5000, int(rng.integers(8, 40)), replace=False) + 1).found
        for _ in range(150)
    ]
    assert np.mean(alarms) < 0.03


def test_the_odds_agree_with_a_plain_sum():
    numbers = [3, 8, 11, 19, 25, 140, 300, 460, 900]
    k, top = len(numbers), 900
    ends = top * 50.0 ** ((np.arange(3000) + 0.5) / 3000)
    one = (ends ** -float(k)).mean()
    two = 0.0
    for place in np.linspace(0, top, 12001)[1:] - top / 24000:
        under = sum(n < place for n in numbers)
        shares = math.factorial(under) * math.factorial(k - under) / math.factorial(k + 1)
        two += shares * place**-under * ((ends - place) ** -float(k - under)).mean()
    two /= 12000
    assert two_densities(numbers).odds == pytest.approx(two / one, rel=0.04)


@pytest.mark.parametrize("numbers", [[1, 2, 3], [5] * 20, range(0, 10)])
def test_too_few_numbers_show_nothing(numbers):
    assert two_densities(numbers) is None


def test_a_count_says_so(ask):
    numbers = drawn(np.random.default_rng(6), 1000, 6000, 30, 9)
    text = "id,mark\n" + "".join(f"r{i},{n}\n" for i, n in enumerate(numbers))
    found, told = ask(COUNT, text, scheme="number overall")
    assert found.totals.densities.found
    said = " ".join(told["sentences"])
    assert "times as thickly below a break" in said
    assert told["densities"]["times_as_thick_below"] > 2
    # the answer allows for more than the break alone
    total = found.totals.best[1]
    assert total.low <= found.totals.densities.total.middle <= total.high


def test_the_start_of_the_years_is_not_the_start_of_the_numbers(ask):
    text = "id,mark\nA,1.217\nB,2.431\nC,3.552\n"
    _, told = ask(COUNT, text, scheme="year counted from 1880, dot, number overall")
    assert told["overall"]["low"] >= 552
