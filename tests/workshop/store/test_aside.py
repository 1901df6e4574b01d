"""What is read aside is ended where it takes too much, and refuses as it would here."""

import os
import sys
import time

import numpy as np
import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.store.aside import ReaderFaultError, TooHeavyError, aside
from ironlace.workshop.store.intake import IntakeError, examine

ASK = {"what": "The file", "instead": "make it smaller"}


def test_the_answer_comes_back_whole():
    assert aside(sum, [1, 2, 3], **ASK) == 6
    assert (aside(np.arange, 70_000, **ASK) == np.arange(70_000)).all()


def test_a_refusal_comes_back_as_the_same_refusal(tmp_path):
    (tmp_path / "a.png").write_bytes(b"no picture")
    with pytest.raises(IntakeError, match="is not a photograph"):
        aside(examine, tmp_path / "a.png", "a.png", **ASK)


def test_what_takes_too_long_is_let_go_of():
    with pytest.raises(TooHeavyError, match=r"not read within 1 s.*smaller") as refused:
        aside(time.sleep, 60, **ASK, seconds=1)
    assert refused.value.http_status == 413


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to its memory")
@pytest.mark.parametrize("function", [bytearray, np.ones])
def test_what_takes_too_much_memory_is_refused(function):
    with pytest.raises(TooHeavyError, match=r"more than 0\.5 GB of memory"):
        aside(function, 1_000_000_000, **ASK, memory=500_000_000)
    assert len(aside(function, 1_000_000, **ASK, memory=500_000_000)) == 1_000_000


def test_a_reader_that_breaks_off_takes_nothing_with_it():
    with pytest.raises(TooHeavyError, match="broke off at The file"):
        aside(os.abort, **ASK)


def test_a_fault_of_the_reader_is_no_refusal():
    with pytest.raises(ReaderFaultError, match="ZeroDivisionError") as fault:
        aside(divmod, 1, 0, **ASK)
    assert not isinstance(fault.value, IronlaceError)
