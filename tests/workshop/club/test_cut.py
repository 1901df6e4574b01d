"""The server cuts connections while many write; the long run is `bench/club_database.py`."""

import numpy as np
import pytest

from cut_connections import cut


@pytest.mark.timeout(300)
def test_whatever_is_cut_each_confirmed_report_is_there_once(club, server):
    database = club["anna"].split("?")[0].rpartition("/")[2]
    rng = np.random.default_rng(20260311)
    told = cut(server, database, ("anna", "dora"), rng, writers=6, cuts=15)
    print(told)
    assert told.cuts == 15
    assert told.felt > 0
    assert told.confirmed > 0
