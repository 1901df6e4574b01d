"""The program is killed at named moments; nothing that it had confirmed may be missing after it.

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
from itertools import cycle
from pathlib import Path

import httpx
import numpy as np
import pytest
from PIL import Image

from ironlace.photographs import strip_sheet
from ironlace.record import DrawingEntry, Photograph, PhotographRole, Question
from ironlace.web import addresses
from ironlace.workshop import Workshop
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.work import foreman
from ironlace.workshop.work.jobs import Jobs, JobState

KILLS = int(os.environ.get("IRONLACE_KILLS", "14"))
WORKER_DEATHS_A_RUN = 3  # then the server dies too: starting one takes longer than killing it

pytestmark = [
    pytest.mark.slow,
    pytest.mark.timeout(1800 + 10 * KILLS),
    pytest.mark.skipif(os.name == "nt", reason="SIGKILL is not there"),
]


MOMENTS = {
    "an upload is under way": ("", lambda run: run.busy.doing == "upload"),
    "a worker has a job in hand": ("pack", lambda run: run.jobs_at_work()),
    "a fact is being written": ("", lambda run: run.busy.doing == "fact"),
    "a job has told a stage": ("trace", lambda run: any(j.stage for j in run.jobs_at_work())),
    "a job is being asked for": ("", lambda run: run.busy.doing in ("trace", "pack")),
    "a stage is kept": ("trace", lambda run: run.kept_stages() - run.kept_before),
    "nothing is under way": ("", lambda run: run.busy.doing == ""),
    "a pack is being written": ("pack", lambda run: any(run.folder.glob("derived/packs/*/.*"))),
}
"""When the program is killed: the job that makes the moment come, if it is the worker's (the person
rests then), and what is looked for from outside, again and again until it is so."""


def test_no_death_loses_a_confirmed_fact(tmp_path, darkroom):
    rng = np.random.default_rng(20250301)
    folder = tmp_path / "workshop"
    slug, ornament = _prepared(folder, tmp_path, rng, darkroom)
    confirmed, came = Confirmed(), Counter()
    moments = cycle(MOMENTS)
    kills = runs = 0
    while kills < KILLS:
        runs += 1
        server = Server(folder)
        busy = Busy(server, slug, ornament, confirmed, seed=runs)
        busy.start()
        with Workshop.open(folder) as seen:
            run = Run(folder, busy, seen, slug)
            try:
                for _ in range(int(rng.integers(0, WORKER_DEATHS_A_RUN + 1))):
                    came[run.until(next(moments))] += 1
                    kills += _kill(server.worker_pid())
                came[run.until(next(moments))] += 1
            finally:
                both = rng.random() < 0.4
                at_work = server.worker_pid() if both else None
                kills += _kill(server.process.pid) + _kill(at_work)
                server.process.wait()
                server.process.stdout.close()
                busy.join()
        _compare(folder, slug, confirmed)
    with Workshop.open(folder) as workshop:
        _finish(workshop, slug, confirmed)
        checked = check_workshop(workshop)
        assert checked.wrong == ()
    assert confirmed.photographs
    assert confirmed.questions
    print(
        f"{kills} kills in {runs} runs: {len(confirmed.photographs)} photographs, "
        f"{len(confirmed.questions)} facts and {len(confirmed.jobs)} jobs confirmed; "
        f"{len(checked.left_over)} files left over; killed when {dict(came)}"
    )
    missed = set(MOMENTS) - set(came)
    # each is waited for some KILLS / 8 times; on a busy machine one or another may never be seen
    assert len(missed) <= (0 if len(MOMENTS) * 8 <= KILLS else 2), missed


class Run:
    """One run of the program as it can be seen from outside."""

    def __init__(self, folder, busy, workshop, slug):
        self.folder, self.busy, self._slug = folder, busy, slug
        self._jobs = Jobs(workshop.database)
        self.kept_before = set()

    def jobs_at_work(self):
        return [j for j in self._jobs.of_record(self._slug) if j.state is JobState.RUNNING]

    def kept_stages(self):
        return set(self.folder.glob("derived/jobs/*/*.npz"))

    def until(self, moment):
        """Wait for a moment; say which came, or that it did not."""
        job, has_come = MOMENTS[moment]
        self.kept_before = self.kept_stages()
        self.busy.rest_after(job)
        while self.busy.is_alive():
            if has_come(self):
                return moment
            if self.busy.resting and not self._jobs_to_do():
                break  # they were done before it could be seen
            time.sleep(0.003)
        return "it did not come"

    def _jobs_to_do(self):
        return any(not job.state.ended for job in self._jobs.of_record(self._slug, 500))


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
    """A person who uploads, writes facts and asks for jobs until the server is gone."""

    def __init__(self, server, slug, ornament, confirmed, seed):
        super().__init__(daemon=True)
        self.server, self.slug, self.ornament = server, slug, ornament
        self.confirmed, self.rng = confirmed, np.random.default_rng(seed)
        self.doing, self._to_do, self._wakes = "", "", threading.Event()
        self._wakes.set()

    @property
    def resting(self):
        return not self._wakes.is_set()

    def rest_after(self, job):
        """Ask for one more job and then do nothing; with no job, go on."""
        self._to_do = job
        self._wakes.set()

    def run(self):
        try:
            with httpx.Client(base_url=self.server.address, timeout=30) as client:
                token = _token(client, addresses.new_entry(self.slug, "question"))
                while True:
                    self.once(client, token)
                    self.doing = ""
                    if self.resting:
                        self._rest(client)
        except httpx.TransportError:
            return  # killed under us, as it should be

    def _rest(self, client):
        """Do nothing until there is something to do, or the server is gone."""
        while not self._wakes.wait(0.05):
            client.get(addresses.home())

    def once(self, client, token):
        job, self._to_do = self._to_do, ""
        if job:
            self._wakes.clear()
        choice = 1.0 if job else self.rng.random()
        if choice < 0.48:
            self.doing = "upload"
            body = _picture(self.rng)
            answer = client.put(
                addresses.photograph_upload(self.slug),
                params={"came_as": "a.png", "role": "part"},
                content=body,
                headers={"x-ironlace-token": token},
            )
            assert answer.status_code == 200, answer.text
            self.confirmed.photographs[answer.json()["name"]] = _sha(body)
        elif choice < 0.96:
            self.doing = "fact"
            asks = f"fact {self.rng.integers(1 << 60)}"
            answer = client.post(
                addresses.entries(self.slug, "question"), data={"token": token, "asks": asks}
            )
            assert answer.status_code == 303, answer.text
            self.confirmed.questions.add(asks)
        else:
            self.doing = job or ("trace" if self.rng.random() < 0.5 else "pack")
            trace = self.doing == "trace"
            to = addresses.pack(self.slug)
            data = {"token": token}
            if trace:
                to = addresses.trace(self.slug, self.ornament)
                data |= {"strip": "wrap", "surface": "plane"}
            answer = client.post(to, data=data)
            assert answer.status_code == 303, answer.text
            self.confirmed.jobs.add(int(re.search(r"(\d+)$", answer.headers["location"])[1]))


def _prepared(folder, scratch, rng, room):
    """A workshop with one machine and one small photograph that can be traced."""
    shot = room.Shot(width=1000, height=700, focal_px=1100, aim_mm=(100.0, 65.0), distance_mm=260)
    drawn = room.scrollwork(rng, (60, 40, 110, 80), scrolls=2)
    image = room.photograph(drawn, strip_sheet("wrap"), shot, rng)
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


def _picture(rng):
    from io import BytesIO

    out = BytesIO()
    size = tuple(int(v) for v in rng.integers(40, 160, 2))
    Image.fromarray(rng.integers(0, 255, (*size, 3), dtype=np.uint8)).save(out, "PNG")
    return out.getvalue()


def _sha(body):
    from hashlib import sha256

    return sha256(body).hexdigest()


def _token(client, page):
    answer = client.get(page)
    assert answer.status_code == 200, answer.text
    return re.search(r'name="token" value="([^"]+)"', answer.text)[1]
