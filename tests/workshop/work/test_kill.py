"""The program is killed 200 times at random moments; nothing that it confirmed may be missing.

A real server with its real worker is under way with uploads, facts, a trace and a pack, when it,
its worker or both are ended by SIGKILL. After each death the workshop is opened directly and
compared with what had been answered with success.
"""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
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

KILLS = int(os.environ.get("IRONLACE_KILLS", "200"))
WORKER_DEATHS_A_RUN = 3  # then the server dies too: starting one takes longer than killing it

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(os.name == "nt", reason="SIGKILL is not there"),
]


def test_no_death_loses_a_confirmed_fact(tmp_path, darkroom):
    rng = np.random.default_rng(20250301)
    folder = tmp_path / "workshop"
    slug, ornament = _prepared(folder, tmp_path, rng, darkroom)
    confirmed = Confirmed()
    kills = runs = 0
    while kills < KILLS:
        runs += 1
        server = Server(folder)
        worker = Busy(server, slug, ornament, confirmed, seed=runs)
        worker.start()
        try:
            for _ in range(int(rng.integers(0, WORKER_DEATHS_A_RUN + 1))):
                time.sleep(float(rng.uniform(0.02, 0.7)))
                kills += _kill(server.worker_pid())
            time.sleep(float(rng.uniform(0.0, 0.7)))
        finally:
            both = rng.random() < 0.4
            at_work = server.worker_pid() if both else None
            kills += _kill(server.process.pid) + _kill(at_work)
            server.process.wait()
            worker.join(10)
        assert not worker.is_alive()
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
        f"{len(checked.left_over)} files left over"
    )


class Confirmed:
    """What the server answered with success."""

    def __init__(self) -> None:
        self.photographs: dict[str, str] = {}
        self.questions: set[str] = set()
        self.jobs: set[int] = set()


class Server:
    """A real server, answering."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"
        self.process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "ironlace",
                "serve",
                f"--workshop={folder}",
                f"--port={port}",
                "--no-browser",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + 60
        while True:
            try:
                httpx.get(f"{self.address}/", timeout=5)
                return
            except httpx.TransportError:
                assert self.process.poll() is None, "the server did not start"
                assert time.monotonic() < deadline, "the server does not answer"
                time.sleep(0.02)

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

    def run(self):
        try:
            with httpx.Client(base_url=self.server.address, timeout=30) as client:
                token = _token(client, addresses.new_entry(self.slug, "question"))
                while True:
                    self.once(client, token)
        except httpx.TransportError:
            return  # killed under us, as it should be

    def once(self, client, token):
        choice = self.rng.random()
        if choice < 0.45:
            body = _picture(self.rng)
            answer = client.put(
                addresses.photograph_upload(self.slug),
                params={"came_as": "a.png", "role": "part"},
                content=body,
                headers={"x-ironlace-token": token},
            )
            assert answer.status_code == 200, answer.text
            self.confirmed.photographs[answer.json()["name"]] = _sha(body)
        elif choice < 0.9:
            asks = f"fact {self.rng.integers(1 << 60)}"
            answer = client.post(
                addresses.entries(self.slug, "question"), data={"token": token, "asks": asks}
            )
            assert answer.status_code == 303, answer.text
            self.confirmed.questions.add(asks)
        else:
            trace = self.rng.random() < 0.5
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
    deadline = time.monotonic() + 240
    while any(not jobs.get(n).state.ended for n in confirmed.jobs):
        assert time.monotonic() < deadline
        foreman.work_off(workshop, "last", threading.Event(), once=True)
        time.sleep(0.2)
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
