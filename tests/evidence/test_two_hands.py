"""Two workers whose products of matrices keep to one thread each."""

import numpy as np
import pytest
from threadpoolctl import threadpool_info, threadpool_limits

from ironlace.evidence.two_hands import two_hands


def _threads() -> set[int]:
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


def test_products_keep_to_one_thread_in_the_pool_and_have_theirs_back_after_it() -> None:
    assert np.ones((2, 2)).sum() == 4  # numpy's library is loaded
    with threadpool_limits(2, user_api="blas"):
        with two_hands() as pool:
            assert set().union(*pool.map(lambda _: _threads(), range(4))) == {1}
        assert _threads() == {2}


def test_they_have_theirs_back_after_work_that_failed() -> None:
    with threadpool_limits(2, user_api="blas"):
        with pytest.raises(ZeroDivisionError), two_hands() as pool:
            list(pool.map(lambda n: 1 / n, range(2)))
        assert _threads() == {2}
