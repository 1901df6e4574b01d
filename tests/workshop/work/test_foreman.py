"""A worker as a process of its own: it ends with the program, and with nothing else."""

import signal
import subprocess
import sys
import time

import pytest

from ironlace.workshop.store.folder import Workshop


@pytest.mark.skipif(sys.platform != "linux", reason="what a process ignores is read in /proc")
def test_a_ctrl_c_at_the_terminal_leaves_ending_the_worker_to_the_program(tmp_path):
    folder = tmp_path / "workshop"
    Workshop.create(folder).close()
    worker = subprocess.Popen(
        [sys.executable, "-m", "ironlace.workshop.work.foreman", str(folder), "w"],
        stdin=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    try:
        _until_it_ignores_a_ctrl_c(worker)
        worker.send_signal(signal.SIGINT)
        with pytest.raises(subprocess.TimeoutExpired):
            worker.wait(timeout=0.5)
        told = worker.communicate(timeout=30)[1]  # closes what it reads from
    finally:
        worker.kill()
        worker.wait()
    assert worker.returncode == 0
    assert told == b""


def _until_it_ignores_a_ctrl_c(worker):
    """Wait until the worker has set itself up: its status names the signals it ignores."""
    ignored = 1 << (signal.SIGINT - 1)
    for _ in range(600):
        with open(f"/proc/{worker.pid}/status") as status:
            mask = next(line for line in status if line.startswith("SigIgn"))
        if int(mask.split()[1], 16) & ignored:
            return
        time.sleep(0.05)
    raise AssertionError("the worker never came to ignore a Ctrl-C")
