"""A program killed at named moments, and what it had confirmed before; used by its test and bench.

A real server with its real worker is under way with uploads, facts, a trace and a pack, when it,
its worker or both are ended by SIGKILL as soon as one of `MOMENTS` is seen to have come. After each
death the workshop is opened directly and compared with what had been answered with success.
"""

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from queue import Empty, SimpleQueue

import httpx
import numpy as np
from PIL import Image
from sqlalchemy import select

import darkroom
from ironlace.evidence.errors import ConflictError
from ironlace.photographs import strip_sheet
from ironlace.record import DrawingEntry, Photograph, PhotographRole, Question
from ironlace.web import addresses
from ironlace.workshop import Workshop
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.store.tables import JobRow
from ironlace.workshop.work import foreman
from ironlace.workshop.work.jobs import Jobs, JobState

WORKER_DEATHS_A_RUN = 3  # then the server dies too: starting one takes longer than killing it

LONGEST_WRITE_S = 0.05
"""A request that writes is killed at a random moment of this long after it was begun: as long as
most take on a quiet machine."""

MOMENTS = {
    "an upload is under way": ("upload", None),
    "a worker has a job in hand": ("pack", lambda run: run.jobs_at_work()),
    "a fact is being written": ("fact", None),
    "a job has told a stage": ("trace", lambda run: any(j.stage for j in run.jobs_at_work())),
    "a job is being asked for": ("job", None),
    "a stage is kept": ("trace", lambda run: run.kept_stages() - run.kept_before),
    "nothing is under way": ("look", None),
    "a pack is being written": ("pack", lambda run: run.pack_under_way()),
}
"""When the program is killed: what the person does, and what is looked for from outside, again and
again until it is so; None for the midst of what the person does."""


@dataclass(frozen=True)
class Told:
    """What one workshop went through: kills, runs of the server, what was confirmed, what came."""

    kills: int
    runs: int
    photographs: int
    facts: int
    jobs: int
    left_over: int
    came: Counter


def kill_at_moments(
    scratch: Path, rng: np.random.Generator, kills: int, moments: Iterator[str]
) -> Told:
    """Kill a program so often, in a workshop made anew under `scratch`; tell what it was.

    `moments` says when, one kill or more for each, and goes on where it was left.

    Raises AssertionError where anything that was confirmed is not there after a death.
    """
    folder = scratch / "workshop"
    slug, ornament = _prepared(folder, scratch, rng)
    confirmed, came = Confirmed(), Counter()
    killed = runs = 0
    while killed < kills:
        runs += 1
        server = Server(folder)
        busy = Busy(server, slug, ornament, confirmed, int(rng.integers(1 << 32)))
        busy.start()
        kill_rng = rng.spawn(1)[0]
        with Workshop.open(folder) as seen:
            run = Run(folder, busy, seen, slug, kill_rng)
            try:
                for _ in range(int(rng.integers(0, WORKER_DEATHS_A_RUN + 1))):
                    came[run.until(next(moments))] += 1
                    killed += _kill(server.worker_pid())
                came[run.until(next(moments))] += 1
            finally:
                both = rng.random() < 0.4
                at_work = server.worker_pid() if both else None
                killed += _kill(server.process.pid) + _kill(at_work)
                server.process.wait()
                server.process.stdout.close()
                busy.join()
        if busy.fault is not None:
            raise busy.fault
        _compare(folder, slug, confirmed)
    with Workshop.open(folder) as workshop:
        _finish(workshop, slug, confirmed)
        checked = check_workshop(workshop)
        assert checked.wrong == ()
    assert confirmed.photographs
    assert confirmed.questions
    return Told(
        killed,
        runs,
        len(confirmed.photographs),
        len(confirmed.questions),
        len(confirmed.jobs),
        len(checked.left_over),
        came,
    )


class Run:
    """One run of the program as it can be seen from outside."""

    def __init__(self, folder, busy, workshop, slug, rng):
        self.folder, self.busy, self._slug, self._rng = folder, busy, slug, rng
        self._database, self._jobs = workshop.database, Jobs(workshop.database)
        self._since, self.kept_before = datetime.now(UTC), set()

    def jobs_at_work(self):
        """Jobs with a beat since the last death: what the dead had in hand stays written down."""
        beaten = (JobRow.state == JobState.RUNNING) & (JobRow.beat_at > self._since)
        with self._database.reading() as session:
            return [self._jobs.get(n) for n in session.scalars(select(JobRow.id).where(beaten))]

    def pack_under_way(self):
        """Whether a pack has a file half written since the last death."""
        since = self._since.timestamp()
        return any(_changed_at(f) > since for f in self.folder.glob("derived/packs/*/.*"))

    def kept_stages(self):
        return set(self.folder.glob("derived/jobs/*/*.npz"))

    def until(self, moment):
        """Wait for a moment; say which came, or that it did not."""
        act, has_come = MOMENTS[moment]
        if has_come is None:
            begun = self.busy.begin(act, after=int(self._rng.integers(0, 8)))
            while self.busy.is_alive() and not begun.wait(0.1):
                pass
            threading.Event().wait(self._rng.uniform(0.0, LONGEST_WRITE_S))  # nobody sets it
            return moment if self.busy.is_alive() else "it did not come"
        self._put_off()
        self._since, self.kept_before = datetime.now(UTC), self.kept_stages()
        asked = self.busy.begin(act)
        while self.busy.is_alive():
            if has_come(self):
                return moment
            if asked.is_set() and self.busy.looking and not self._to_do():
                break  # they were done before it could be seen
            time.sleep(0.003)
        return "it did not come"

    def _put_off(self):
        """Stop what waits for the worker, so that what is asked next is done next."""
        for number in self._to_do(JobRow.state == JobState.WAITING):
            with suppress(ConflictError):  # it was ended meanwhile
                self._jobs.stop(number)

    def _to_do(self, *which):
        with self._database.reading() as session:
            query = select(JobRow.id).where(JobRow.ended_at.is_(None), *which)
            return list(session.scalars(query))


class Confirmed:
    """What the server answered with success."""

    def __init__(self) -> None:
        self.photographs: dict[str, str] = {}
        self.questions: set[str] = set()
        self.jobs: set[int] = set()


class Server:
    """A real server, answering."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "ironlace",
                "serve",
                f"--workshop={folder}",
                "--port=0",
                "--no-browser",
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        told = re.search(r"http://[0-9.:]+", self.process.stdout.readline())
        assert told, "the server did not start"
        self.address = told[0]

    def worker_pid(self) -> int | None:
        children = Path(f"/proc/{self.process.pid}/task").glob("*/children")
        pids = [pid for file in children for pid in _read(file).split()]
        return int(pids[0]) if pids else None


class Busy(threading.Thread):
    """A person who uploads, writes facts, asks for jobs and looks, until the server is gone."""

    def __init__(self, server, slug, ornament, confirmed, seed):
        super().__init__(daemon=True)
        self.server, self.slug, self.ornament = server, slug, ornament
        self.confirmed, self.rng = confirmed, np.random.default_rng(seed)
        self._asked, self.looking, self.fault = SimpleQueue(), False, None

    def begin(self, act, after=0):
        """Have an act done, so many times and once more; the event comes when the last begins.

        A job is asked for once, and then pages are looked at until the next act; other acts are
        done again and again.
        """
        begun = threading.Event()
        self.looking = False
        self._asked.put((act, after, begun))
        return begun

    def run(self):
        act, left, begun = "look", 0, threading.Event()
        try:
            with httpx.Client(base_url=self.server.address, timeout=30) as client:
                token = _token(client, addresses.new_entry(self.slug, "question"))
                # each run has something to lose, however soon the first death comes
                self._upload(client, token)
                self._fact(client, token)
                while True:
                    with suppress(Empty):
                        act, left, begun = self._asked.get_nowait()
                    if left <= 0:
                        begun.set()
                    getattr(self, f"_{act}")(client, token)
                    left -= 1
                    if act in ("trace", "pack"):
                        act = "look"
                    self.looking = act == "look" and self._asked.empty()
        except httpx.TransportError:
            return  # killed under us, as it should be
        except AssertionError as fault:  # for whoever waits: in a thread it would be lost
            self.fault = fault

    def _look(self, client, token):
        client.get(addresses.home())
        time.sleep(0.02)

    def _upload(self, client, token):
        body = _picture(self.rng)
        answer = client.put(
            addresses.photograph_upload(self.slug),
            params={"came_as": "a.png", "role": "part"},
            content=body,
            headers={"x-ironlace-token": token},
        )
        assert answer.status_code == 200, answer.text
        self.confirmed.photographs[answer.json()["name"]] = _sha(body)

    def _fact(self, client, token):
        asks = f"fact {self.rng.integers(1 << 60)}"
        to, data = addresses.entries(self.slug, "question"), {"token": token, "asks": asks}
        answer = client.post(to, data=data)
        assert answer.status_code == 303, answer.text
        self.confirmed.questions.add(asks)

    def _job(self, client, token):
        (self._trace if self.rng.random() < 0.5 else self._pack)(client, token)

    def _trace(self, client, token):
        places = {"strip": "wrap", "surface": "plane"}
        self._ask(client, addresses.trace(self.slug, self.ornament), {"token": token} | places)

    def _pack(self, client, token):
        self._ask(client, addresses.pack(self.slug), {"token": token})

    def _ask(self, client, to, data):
        answer = client.post(to, data=data)
        assert answer.status_code == 303, answer.text
        self.confirmed.jobs.add(int(re.search(r"(\d+)$", answer.headers["location"])[1]))


def _prepared(folder, scratch, rng):
    """A workshop with one machine and one small photograph that can be traced."""
    shot = darkroom.Shot(
        width=1000, height=700, focal_px=1100, aim_mm=(100.0, 65.0), distance_mm=260
    )
    drawn = darkroom.scrollwork(rng, (60, 40, 110, 80), scrolls=2)
    image = darkroom.photograph(drawn, strip_sheet("wrap"), shot, rng)
    Image.fromarray(image).save(scratch / "ornament.png")
    with Workshop.create(folder) as workshop:
        slug = workshop.records.create("Head")
        taken = workshop.photographs.take_in_file(
            slug, scratch / "ornament.png", PhotographRole.ORNAMENT
        )
    return slug, int(taken.name.split()[1])


def _compare(folder, slug, confirmed):
    with Workshop.open(folder) as workshop:
        record = workshop.records.read(slug)
        standing = {name: p.sha256 for name, p in record.of(Photograph)}
        lost = confirmed.photographs.items() - standing.items()
        assert not lost, f"photographs lost: {lost}"
        asked = {question.asks for _, question in record.of(Question)}
        assert confirmed.questions <= asked, f"facts lost: {confirmed.questions - asked}"
        jobs = Jobs(workshop.database)
        for number in confirmed.jobs:
            assert jobs.get(number).state is not JobState.FAILED, jobs.get(number).error


def _finish(workshop, slug, confirmed):
    """Do all that still waits; each trace must have told its drawing exactly once."""
    jobs = Jobs(workshop.database)
    waiting = [n for n in confirmed.jobs if not jobs.get(n).state.ended]
    for number in waiting[6:]:
        jobs.stop(number)  # a few are enough to see that they go on; the rest would only repeat
    while any(not jobs.get(n).state.ended for n in confirmed.jobs):
        foreman.work_off(workshop, "last", threading.Event(), once=True)
        time.sleep(0.2)  # what a killed worker had in hand is free after a silence
    done = [jobs.get(n) for n in confirmed.jobs if jobs.get(n).state is JobState.DONE]
    told = [job.result["drawing"] for job in done if job.task == "trace"]
    drawings = [name for name, _ in workshop.records.read(slug).of(DrawingEntry)]
    assert sorted(told) == sorted(set(drawings) & set(told))
    assert len(drawings) - len(told) in (0, len(_unanswered(workshop, confirmed)))
    packs = [job.result["pack"] for job in done if job.task == "pack"]
    for pack in packs:
        assert (workshop.derived / pack / "dossier-a4.pdf").read_bytes().startswith(b"%PDF")


def _unanswered(workshop, confirmed):
    """Traces that were asked for and done, while their answer was cut off by a kill."""
    jobs = Jobs(workshop.database)
    every = jobs.of_record(workshop.records.all()[0].slug, count=100_000)
    return [
        job
        for job in every
        if job.task == "trace" and job.state is JobState.DONE and job.id not in confirmed.jobs
    ]


def _kill(pid):
    if pid is None:
        return 0
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return 0
    return 1


def _read(file):
    try:
        return file.read_text()
    except OSError:
        return ""


def _changed_at(file):
    try:
        return file.stat().st_mtime
    except FileNotFoundError:  # it got its name since it was listed
        return 0.0


def _picture(rng):
    out = BytesIO()
    size = tuple(int(v) for v in rng.integers(40, 160, 2))
    Image.fromarray(rng.integers(0, 255, (*size, 3), dtype=np.uint8)).save(out, "PNG")
    return out.getvalue()


def _sha(body):
    return sha256(body).hexdigest()


def _token(client, page):
    answer = client.get(page)
    assert answer.status_code == 200, answer.text
    return re.search(r'name="token" value="([^"]+)"', answer.text)[1]
