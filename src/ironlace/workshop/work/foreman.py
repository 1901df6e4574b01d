"""Worker processes, and the foreman who keeps them at work while the program runs.

A worker ends when its standard input closes, which happens however the program ends, so no worker
is left behind to write into a folder that someone else has since opened.
"""

import logging
import os
import signal
import subprocess
import sys
import threading
import time
import traceback
from pathlib import Path
from typing import IO

from sqlalchemy.exc import SQLAlchemyError

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.store.faults import in_words
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.work.in_hand import Task, Work
from ironlace.workshop.work.jobs import BEAT_S, Job, Jobs, JobStoppedError, worker_name
from ironlace.workshop.work.stages import Stages
from ironlace.workshop.work.tasks import TASKS

_POLL_S = 0.3
"""How often a worker looks for a job: not felt by a person, and nothing to a database."""
_KILLED = 9  # the signal's number; `signal.SIGKILL` is not known on every system
_SOON_S = 10.0
"""A worker that the system kills for its memory has worked longer than this; one killed sooner was
ended by somebody. A judgement."""
_AGAIN_S = 5.0
"""Wait before another worker is tried where disk or database refused the last. A judgement."""
_log = logging.getLogger("ironlace.jobs")


class Foreman:
    """Keeps worker processes alive for one workshop."""

    def __init__(self, folder: Path, workers: int = 1) -> None:
        self._folder = folder
        self._count = workers
        self._ending = threading.Event()
        self._threads: list[threading.Thread] = []

    def start(self) -> None:
        """Start the workers."""
        for _ in range(self._count):
            thread = threading.Thread(target=self._keep_one, daemon=True)
            thread.start()
            self._threads.append(thread)

    def stop(self) -> None:
        """End the workers; what they were at goes on at the next start."""
        self._ending.set()
        for thread in self._threads:
            thread.join(timeout=10)

    def _keep_one(self) -> None:
        while not self._ending.is_set():
            name = worker_name()
            begun = time.monotonic()
            process = subprocess.Popen(
                [sys.executable, "-m", "ironlace.workshop.work.foreman", str(self._folder), name],
                stdin=subprocess.PIPE,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "2"},
            )
            while process.poll() is None and not self._ending.wait(_POLL_S):
                pass
            if self._ending.is_set():
                if process.stdin:
                    process.stdin.close()
                try:
                    process.wait(timeout=5)
                except subprocess.TimeoutExpired:
                    process.kill()
                    process.wait()
            elif process.returncode != 0:
                _log.warning("a worker ended with code %s; starting another", process.returncode)
                # a job that eats all memory is killed by the system, but not within seconds: a
                # worker killed sooner was ended by somebody, and its job is not to blame
                ended = process.returncode == -_KILLED and time.monotonic() - begun < _SOON_S
                try:
                    with Workshop.open(self._folder) as workshop:
                        Jobs(workshop.database).crashed(name, counts=not ended)
                except (IronlaceError, OSError, SQLAlchemyError) as error:
                    # its job is free again when its heartbeat is found silent
                    _log.warning("a worker cannot be set to work: %s", in_words(error) or error)
                    self._ending.wait(_AGAIN_S)


def work_off(workshop: Workshop, name: str, ending: threading.Event, *, once: bool = False) -> None:
    """Do jobs until told to end; with `once`, until none waits."""
    jobs = Jobs(workshop.database)
    while not ending.is_set():
        job = jobs.claim(name)
        if job is not None:
            _do(workshop, jobs, job, name)
        elif once:
            return
        else:
            ending.wait(_POLL_S)


def _do(workshop: Workshop, jobs: Jobs, job: Job, name: str) -> None:
    """Do one job to its end, whatever that is."""
    done = threading.Event()
    beating = threading.Thread(target=_beat, args=(jobs, job.id, name, done), daemon=True)
    beating.start()
    stages = Stages(
        workshop.derived / "jobs" / str(job.id),
        lambda stage, fraction: jobs.report(job.id, name, stage, fraction),
    )
    try:
        task: Task = TASKS[job.task]
        tell = task(Work(workshop, job, stages))
        jobs.finish(job.id, name, tell)
        stages.clear()
    except JobStoppedError:
        _log.info("job %s was stopped", job.id)
    except IronlaceError as error:
        jobs.fail(job.id, name, str(error))
    except Exception as error:  # noqa: BLE001  (the person is told, the log has the rest)
        _log.exception("job %s failed", job.id)
        last = traceback.format_exc(limit=-1).strip().splitlines()[-1]
        refusal = in_words(error)
        jobs.fail(
            job.id, name, str(refusal or f"A fault in the program stopped this job ({last}).")
        )
    finally:
        done.set()
        beating.join()


def _beat(jobs: Jobs, number: int, name: str, done: threading.Event) -> None:
    while not done.wait(BEAT_S):
        try:
            jobs.beat(number, name)
        except JobStoppedError:
            return  # the task learns it at its next report
        except (IronlaceError, OSError, SQLAlchemyError) as error:
            _log.warning("a beat of job %s was missed: %s", number, in_words(error) or error)


def _end_with_program(stream: IO[bytes]) -> None:
    stream.read()  # returns when the program that started us is gone
    os._exit(0)


def _main(folder: str, name: str) -> None:
    logging.basicConfig(level=logging.WARNING, format="worker: %(message)s")
    # a Ctrl-C at the terminal reaches every process there; the program alone says when to end
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_program, args=(sys.stdin.buffer,), daemon=True).start()
    with Workshop.open(Path(folder)) as workshop:
        work_off(workshop, name, threading.Event())


if __name__ == "__main__":
    _main(sys.argv[1], sys.argv[2])
