"""Of the map of gilt, what its photographs elsewhere do not show by themselves."""

import numpy as np
import pytest

from ironlace.ornament.gilt.gilt_map import _at_share


@pytest.mark.parametrize("count", [60, 61, 97, 2_400])
def test_a_share_of_a_window_is_numpys_percentile(count):
    values = np.random.default_rng(count).normal(size=count).astype(np.float32)
    for share in (0.08, 0.4, 1.0):
        assert _at_share(np.sort(values), share) == pytest.approx(
            np.percentile(values, 100 * share), rel=1e-12, abs=1e-12
        )
