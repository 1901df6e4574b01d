import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import update

from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.record import Question
from ironlace.workshop.store.tables import JobRow
from ironlace.workshop.work import foreman
from ironlace.workshop.work.jobs import MAX_CRASHES, Jobs, JobState, JobStoppedError
from ironlace.workshop.work.stages import Stages


@pytest.fixture
def jobs(workshop):
    return Jobs(workshop.database)


@pytest.fixture
def tasks(monkeypatch):
    known = {}
    monkeypatch.setattr(foreman, "TASKS", known)
    return known


def work_off(workshop, name="w"):
    foreman.work_off(workshop, name, threading.Event(), once=True)


def test_a_job_is_done_and_tells_its_result(workshop, slug, jobs, tasks):
    def task(work):
        work.stages.tell("looking", 0.5)

        def tell(session):
            question = Question(asks=work.job.asked["asks"])
            return {"entry": workshop.records.add_in(session, slug, question)}

        return tell

    tasks["ask"] = task
    number = jobs.ask("ask", {"asks": "who?"}, slug)
    assert jobs.get(number).state is JobState.WAITING
    work_off(workshop)
    job = jobs.get(number)
    assert (job.state, job.result, job.fraction) == (JobState.DONE, {"entry": "question 1"}, 1.0)
    assert workshop.records.read(slug).named("question 1").asks == "who?"


def test_what_cannot_be_done_says_why(workshop, jobs, tasks):
    def refuse(work):
        raise IronlaceError("No marker was found: lay the strip flat and photograph it again.")

    def fault(work):
        return {}[work.job.id]

    tasks.update(refuse=refuse, fault=fault)
    refused, faulty = jobs.ask("refuse", {}), jobs.ask("fault", {})
    work_off(workshop)
    assert jobs.get(refused).state is jobs.get(faulty).state is JobState.FAILED
    assert jobs.get(refused).error.startswith("No marker was found")
    assert "fault in the program" in jobs.get(faulty).error


def test_a_job_can_be_stopped_while_it_runs(workshop, jobs, tasks):
    begun = threading.Event()

    def endless(work):
        begun.set()
        while True:
            work.stages.tell("going on", 0.1)
            time.sleep(0.01)  # a task at work; it ends when it is told that it was stopped

    tasks["endless"] = endless
    number = jobs.ask("endless", {})
    worker = threading.Thread(target=work_off, args=(workshop,))
    worker.start()
    begun.wait()
    jobs.stop(number)
    worker.join()  # a worker that went on would hang here, which the limit for a test ends
    assert jobs.get(number).state is JobState.STOPPED
    with pytest.raises(ConflictError):
        jobs.stop(number)


def test_a_stopped_job_can_start_again_where_it_was(workshop, jobs, tasks):
    made = []

    def task(work):
        def make():
            made.append("flat")
            return np.arange(6)

        flat = work.stages.kept("flat", make, lambda a: {"a": a}, lambda kept: kept["a"])
        if len(made) == 1 and not work.job.asked.get("again"):
            jobs.stop(work.job.id)
            work.asked_again = True
        work.stages.tell("after the flat", 0.6)
        return lambda session: {"sum": int(flat.sum())}

    tasks["two"] = task
    number = jobs.ask("two", {})
    work_off(workshop)
    assert jobs.get(number).state is JobState.STOPPED
    jobs.again(number)
    tasks["two"] = lambda work: (
        lambda session: {
            "sum": int(
                work.stages.kept(
                    "flat",
                    lambda: pytest.fail("made twice"),
                    lambda a: {"a": a},
                    lambda kept: kept["a"],
                ).sum()
            )
        }
    )
    work_off(workshop)
    assert jobs.get(number).result == {"sum": 15}
    assert made == ["flat"]
    assert not (workshop.derived / "jobs" / str(number)).exists()


def test_a_spoilt_stage_is_made_again(tmp_path):
    stages = Stages(tmp_path, lambda stage, fraction: None)
    (tmp_path / "flat.npz").write_bytes(b"half a file")
    kept = stages.kept("flat", lambda: np.ones(3), lambda a: {"a": a}, lambda k: k["a"])
    assert kept.sum() == 3
    assert (
        stages.kept("flat", lambda: pytest.fail("made"), lambda a: {"a": a}, lambda k: k["a"]).sum()
        == 3
    )


def test_a_silent_workers_job_is_taken_over_and_the_first_may_not_end_it(workshop, slug, jobs):
    number = jobs.ask("x", {}, slug)
    assert jobs.claim("one").id == number
    assert jobs.claim("two") is None
    long_ago = datetime.now(UTC) - timedelta(minutes=5)
    with workshop.database.writing() as session:
        session.execute(update(JobRow).values(beat_at=long_ago))
    assert jobs.claim("two").id == number
    with pytest.raises(JobStoppedError):
        jobs.report(number, "one", "still here", 0.5)
    with pytest.raises(JobStoppedError):
        jobs.finish(number, "one", lambda session: {})
    jobs.finish(number, "two", lambda session: {"by": "two"})
    assert jobs.get(number).result == {"by": "two"}


def test_what_a_job_adds_is_added_whole_or_not_at_all(workshop, slug, jobs):
    number = jobs.ask("x", {}, slug)
    jobs.claim("one")

    def tell(session):
        workshop.records.add_in(session, slug, Question(asks="who?"))
        raise RuntimeError("power cut")

    with pytest.raises(RuntimeError):
        jobs.finish(number, "one", tell)
    assert workshop.records.read(slug).entries == {}
    assert jobs.get(number).state is JobState.RUNNING


def test_a_job_that_kills_its_workers_is_given_up(jobs):
    number = jobs.ask("x", {})
    for attempt in range(MAX_CRASHES):
        assert jobs.claim(f"w{attempt}").id == number
        jobs.crashed(f"w{attempt}")
    assert jobs.get(number).state is JobState.FAILED
    assert "died 3 times" in jobs.get(number).error


def test_there_is_no_job_that_was_never_asked_for(jobs):
    with pytest.raises(NotFoundError):
        jobs.get(7)
    with pytest.raises(NotFoundError):
        jobs.ask("x", {}, "no-such-machine")


@pytest.mark.skipif(os.name == "nt", reason="signals of another kind there")
def test_a_worker_ends_when_the_program_is_killed(workshop):
    program = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys\nfrom pathlib import Path\n"
            "from ironlace.workshop.work.foreman import Foreman\n"
            "Foreman(Path(sys.argv[1])).start()\nsys.stdin.read()",
            str(workshop.folder),
        ],
        stdin=subprocess.PIPE,
    )
    worker = _child_of(program)
    os.kill(program.pid, signal.SIGKILL)
    program.wait()
    program.stdin.close()
    while _alive(worker):  # one that outlives its program hangs here: the limit for a test ends it
        time.sleep(0.05)


def _child_of(program):
    while program.poll() is None:
        found = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(program.pid)],
            capture_output=True,
            text=True,
            check=False,
        ).stdout.split()
        if found:
            return int(found[0])
        time.sleep(0.05)
    raise AssertionError("the program ended before it had started a worker")


def _alive(pid):
    state = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False
    ).stdout.strip()
    return bool(state) and not state.startswith("Z")


def test_progress_forgets_crashes_and_never_goes_backwards(jobs):
    number = jobs.ask("x", {})
    for attempt in range(3 * MAX_CRASHES):
        assert jobs.claim(f"w{attempt}").id == number
        jobs.report(number, f"w{attempt}", "from the beginning", 0.01)
        jobs.report(number, f"w{attempt}", "a little farther", 0.05 * (attempt + 1))
        jobs.crashed(f"w{attempt}")
    job = jobs.get(number)
    assert job.state is JobState.WAITING
    assert job.fraction == pytest.approx(0.05 * 3 * MAX_CRASHES)


def test_a_worker_that_somebody_ended_does_not_count_against_its_job(jobs):
    number = jobs.ask("x", {})
    for attempt in range(2 * MAX_CRASHES):
        assert jobs.claim(f"w{attempt}").id == number
        jobs.crashed(f"w{attempt}", counts=False)
    assert jobs.get(number).state is JobState.WAITING
