"""Send a bench what nobody should, and see that it answers each with a sentence.

    python bench/hostile_inputs.py --inputs 3000 --seed 1

A real server with its worker is started on a copy of a workshop that holds a machine with reports,
marks, photographs and drawings. Addresses, forms, files and bare bytes are made at random from a
stock of nasty pieces, and by spoiling sound files. Counted are answers of 5xx, requests without an
answer, answers that took over 10 s, and the most memory of any process. At the end the workshop is
checked. Ends with 1 where anything of it is not as it should be. Linux only (it reads /proc).
"""

import argparse
import io
import json
import os
import re
import socket
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
import zlib
from collections import Counter
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urlencode

import httpx
import numpy as np
from PIL import Image

from ironlace.web import create_app

BACKUP = Path(__file__).parents[1] / "tests" / "fixtures" / "workshop_before" / "backup.zip"
MOST_S = 10.0
"""An answer that takes longer is a fault, unless told otherwise."""
MOST_GB = 1.5
_PORT = re.compile(r"127\.0\.0\.1:(\d+)")
_WAIT_S = 60.0
"""How long an answer is waited for before the request counts as one without."""

TEXTS = (
    "",
    " ",
    "\x00",
    "\x1b[31m",
    "a" * 5_000,
    "é" * 3_000,
    "\u202e4.96.217",
    "\ud800".encode("utf-8", "surrogatepass").decode("latin1"),
    "<script>alert(1)</script>",
    "'; DROP TABLE",
    "=cmd|' /C calc'!A0",
    "../../etc/passwd",
    "..\\..\\boot.ini",
    "%00",
    "%s%n",
    "{{7*7}}",
    "9" * 400,
    "-1",
    "0",
    "1e308",
    "1e-400",
    "nan",
    "inf",
    "-0",
    "٣٤",
    "½",
    "1,5",
    "1.5.5",
    "0500/1999",
    "1000/2500",
    "-9999/9999",
    "1895-13-45",
    "Y1700000002",
    "[1800..]",
    "156u-12-25",
    "{1667,1668}" * 50,
    "4.96.217",
    "4.96.217 " * 500,
    "." * 300,
    "mark 1",
    "mark 999999999",
    "photograph 0",
    "drawing 1" * 40,
    "report 1\nreport 1",
    "month, dot, year\n" * 3000,
    "year" * 700,
    "(" * 1000,
    "a: month | weight 1e999",
    "\r\nX-Evil: 1",
    "null",
    "[]",
    "{}",
    "١٢٣",
    "𝟛",
    "0x10",
    "1_000",
    "+5",
    "5 mm ± -1 mm",
    "5 furlongs",
    "1 / 0",
    "１２",
)
"""Pieces that have broken programs: controls, directions of writing, figures that are none, dates
beyond any calendar, other systems' paths, formulas, very long and very many."""


_KEYS = (
    "serial",
    "change",
    "kind",
    "points",
    "x",
    "y",
    "at",
    "axis",
    "width",
    "evidence",
    "bridge",
    "number",
    "text",
    "what",
    "value",
    "unit",
    "key",
    "code",
    "of",
    "from",
    "to",
    "turn",
    "hold",
)


class _Forms(HTMLParser):
    """The forms of a page: where each is sent, how, and what its fields are called."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[dict] = []

    def handle_starttag(self, tag: str, attrs: list) -> None:
        told = dict(attrs)
        if tag == "form":
            self.forms.append(
                {
                    "action": told.get("action"),
                    "method": (told.get("method") or "get").lower(),
                    "files": "multipart" in (told.get("enctype") or ""),
                    "fields": [],
                }
            )
        elif tag in ("input", "select", "textarea", "button") and self.forms and told.get("name"):
            self.forms[-1]["fields"].append(
                (told["name"], told.get("type") or tag, told.get("value") or "")
            )


@dataclass
class Seen:
    """What came of the requests."""

    kinds: Counter = field(default_factory=Counter)
    status: Counter = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    slowest: list[tuple[float, str]] = field(default_factory=list)
    most_bytes: int = 0


def spoilt(data: bytes, rng: np.random.Generator) -> bytes:
    """A file with bits flipped, a piece cut out, doubled or its end missing."""
    out = bytearray(data)
    for _ in range(int(rng.integers(1, 4))):
        if not out:
            break
        at = int(rng.integers(0, len(out)))
        way = rng.integers(0, 5)
        if way == 0:
            out[at] ^= 1 << int(rng.integers(0, 8))
        elif way == 1:
            del out[at:]
        elif way == 2:
            del out[at : at + int(rng.integers(1, 200))]
        elif way == 3:
            out[at:at] = out[at : at + int(rng.integers(1, 2_000))]
        else:  # a length field is the likeliest to lead astray: the file's first bytes
            at = int(rng.integers(0, min(len(out), 64)))
            out[at] = int(rng.integers(0, 256))
    return bytes(out)


def _picture(kind: str, **options: object) -> bytes:
    rng = np.random.default_rng(7)
    out = io.BytesIO()
    Image.fromarray(rng.integers(0, 255, (60, 80, 3), dtype=np.uint8)).save(out, kind, **options)
    return out.getvalue()


def _png_claiming(width: int, height: int, rows: int) -> bytes:
    """A PNG of zeros, packed as small as can be; it may break off after so many rows."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")
        )

    packer = zlib.compressobj(9)
    packed = b"".join(packer.compress(bytes(4 * width + 1)) for _ in range(rows)) + packer.flush()
    head = width.to_bytes(4, "big") + height.to_bytes(4, "big") + b"\x08\x06\x00\x00\x00"
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
    )


def _zip_of(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in files.items():
            packed.writestr(name, data)
    return out.getvalue()


def _xlsx(rows: int, cell: str = "4.96.217") -> bytes:
    """A spreadsheet of one column (ECMA-376, part 1, in its least form)."""
    schemas = "http://schemas.openxmlformats.org"
    main, papers = f"{schemas}/spreadsheetml/2006/main", f"{schemas}/officeDocument/2006"
    packed, kind = f"{schemas}/package/2006", "application/vnd.openxmlformats"
    body = "".join(
        f'<row r="{n}"><c r="A{n}" t="inlineStr"><is><t>{cell}</t></is></c></row>'
        for n in range(1, rows + 1)
    )
    texts = {
        "[Content_Types].xml": f"""<Types xmlns="{packed}/content-types"><Default
 Extension="rels" ContentType="{kind}-package.relationships+xml"/><Override
 PartName="/xl/workbook.xml" ContentType="{kind}-officedocument.spreadsheetml.sheet.main+xml"/>
 <Override PartName="/xl/worksheets/sheet1.xml"
 ContentType="{kind}-officedocument.spreadsheetml.worksheet+xml"/></Types>""",
        "_rels/.rels": f"""<Relationships xmlns="{packed}/relationships"><Relationship Id="rId1"
 Type="{papers}/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>""",
        "xl/workbook.xml": f"""<workbook xmlns="{main}" xmlns:r="{papers}/relationships"><sheets>
 <sheet name="a" sheetId="1" r:id="rId1"/></sheets></workbook>""",
        "xl/_rels/workbook.xml.rels": f"""<Relationships xmlns="{packed}/relationships">
 <Relationship Id="rId1" Type="{papers}/relationships/worksheet"
 Target="worksheets/sheet1.xml"/></Relationships>""",
        "xl/worksheets/sheet1.xml": f"""<worksheet xmlns="{main}"><sheetData>{body}</sheetData>
</worksheet>""",
    }
    return _zip_of({name: text.encode() for name, text in texts.items()})


def _svg(body: str) -> bytes:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="120mm" '
        f'viewBox="0 0 120 120">{body}</svg>'
    ).encode()


def _nested_use() -> bytes:
    steps = "".join(
        f'<g id="a{n}">' + "".join(f'<use href="#a{n - 1}" x="{k}"/>' for k in range(10)) + "</g>"
        for n in range(1, 10)
    )
    return _svg(f'<defs><path id="a0" d="M0 0L1 0L1 1Z"/>{steps}</defs><use href="#a9"/>')


def files_at_hand(rng: np.random.Generator, *, light: bool = False) -> dict[str, bytes]:
    """Sound files to be spoilt, and files that are costly or deceitful as they are.

    The light ones leave out what takes seconds to make and to refuse.
    """
    scribble = " L".join(f"{x:.2f} {y:.2f}" for x, y in rng.uniform(0, 100, (20_000, 2)))
    lines = "".join(f"r{n},{n % 12 + 1}.96.{n}\n" for n in range(60_000))
    costly = {} if light else _costly()
    return {
        **costly,
        "sound.jpg": _picture("JPEG"),
        "progressive.jpg": _picture("JPEG", progressive=True),
        "sound.png": _picture("PNG"),
        "sound.tif": _picture("TIFF"),
        "packed.tif": _picture("TIFF", compression="tiff_lzw"),
        "sound.heic": _heic(),
        "raw.dng": b"II*\x00\x08\x00\x00\x00" + bytes(4_000),
        "raw.cr3": b"\x00\x00\x00\x18ftypcrx " + bytes(4_000),
        "larger.png": _png_claiming(40_000, 40_000, 1),
        "sound.svg": _svg('<path d="M0 0L10 0L10 10Z"/><circle cx="30" cy="30" r="5"/>'),
        "use.svg": _nested_use(),
        "scribble.svg": _svg(f'<path d="M{scribble}Z"/>'),
        "deep.svg": _svg("<g>" * 20_000),
        "entities.svg": b'<!DOCTYPE s [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
        b'<svg xmlns="http://www.w3.org/2000/svg"><text>&b;&b;</text></svg>',
        "sound.csv": b"id,mark,seen\nA,4.96.217,plate\nB,6.95.12,plate\n",
        "long.csv": b"id,mark\n" + lines.encode(),
        "wide.csv": b"id,mark" + b",x" * 50_000 + b"\n",
        "quote.csv": b'id,mark\n"A,4.96.217' + b"\n" * 100_000,
        "zeros.csv": bytes(1_000_000),
        "sound.xlsx": _xlsx(9),
        "cell.xlsx": _xlsx(3, cell="4.96.217 " * 500_000),
        "survey.zip": _zip_of(
            {"survey.csv": b"id,mark\nA,4.96.217\n", "survey.csv-metadata.json": b"{" * 100_000}
        ),
        "empty": b"",
        "noise.bin": rng.bytes(100_000),
    }


def _costly() -> dict[str, bytes]:
    names = {f"{n}.csv": b"" for n in range(60_000)}
    zeros = {"survey.csv": bytes(300_000_000), "survey.csv-metadata.json": b"{}"}
    return {
        "large.png": _png_claiming(14_000, 14_000, 14_000),
        "long.xlsx": _xlsx(400_000),
        "names.zip": _zip_of(names),
        "bomb.zip": _zip_of(zeros),
    }


def _heic() -> bytes:
    import pillow_heif

    pillow_heif.register_heif_opener()
    return _picture("HEIF")


class Bench:
    """A bench at work, and somebody who means it no good."""

    def __init__(self, folder: Path, rng: np.random.Generator, most_s: float = MOST_S) -> None:
        self.rng, self.most_s = rng, most_s
        self.routes, self.slug = _routes(folder)
        self.seen = Seen()
        self.process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "ironlace",
                "serve",
                "--workshop",
                str(folder),
                "--port",
                "0",
                "--no-browser",
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        said = self.process.stdout.readline()
        self.port = int(_PORT.search(said)[1])
        self.said: list[str] = []
        threading.Thread(target=self._listen, daemon=True).start()
        self._ending = threading.Event()
        threading.Thread(target=self._watch, daemon=True).start()
        self.client = httpx.Client(
            base_url=f"http://127.0.0.1:{self.port}", timeout=_WAIT_S, follow_redirects=False
        )
        self.pages: list[str] = []
        self.forms: list[dict] = []
        self.token = ""

    def _listen(self) -> None:
        for line in self.process.stderr:
            self.said.append(line)

    def _watch(self) -> None:
        """Note the most memory that the server or any process it started has taken."""
        while not self._ending.wait(0.05):
            for one in _family(self.process.pid):
                try:
                    text = Path(f"/proc/{one}/status").read_text()
                except OSError:
                    continue
                found = re.search(r"VmHWM:\s+(\d+)", text)
                if found:
                    self.seen.most_bytes = max(self.seen.most_bytes, int(found[1]) * 1024)

    def close(self) -> None:
        self._ending.set()
        self.client.close()
        self.process.terminate()
        self.process.wait(timeout=30)

    def look_round(self, start: str = "/", most: int = 150) -> None:
        """Follow links and gather forms, as a person would who wants to know what there is."""
        waiting, known = [start], {start}
        while waiting and len(self.pages) < most:
            path = waiting.pop(0)
            answer = self.client.get(path)
            if "text/html" not in answer.headers.get("content-type", ""):
                continue
            self.pages.append(path)
            forms = _Forms()
            forms.feed(answer.text)
            for form in forms.forms:
                form["action"] = form["action"] or path
                self.forms.append(form)
                for name, _, value in form["fields"]:
                    if name == "token":
                        self.token = value
            for link in re.findall(r'href="(/[^"#]*)"', answer.text):
                plain = re.sub(r"\d+", "1", link.partition("?")[0])
                if plain not in known and "static" not in link:
                    known.add(plain)
                    waiting.append(link)

    def _choice(self, of: list) -> object:
        return of[int(self.rng.integers(0, len(of)))]

    def _nasty(self) -> str:
        text = str(self._choice(list(TEXTS)))
        return text if self.rng.random() < 0.8 else text + str(self._choice(list(TEXTS)))

    def address(self) -> tuple[str, str, dict]:
        """A page's address with a step or a question of it put wrong."""
        path = str(self._choice(self.pages)).partition("?")[0]
        steps = path.split("/")
        if self.rng.random() < 0.5 and len(steps) > 1:
            steps[int(self.rng.integers(1, len(steps)))] = self._nasty()[:300]
        asked = {
            str(
                self._choice(
                    [
                        "which",
                        "page",
                        "schemes",
                        "kept",
                        "role",
                        "size",
                        "show",
                        "since",
                        "as_of",
                        "number",
                        "of",
                        "compare",
                        "today",
                    ]
                )
            ): self._nasty()[:6_000]
            for _ in range(int(self.rng.integers(0, 4)))
        }
        return "GET", "/".join(steps), {"params": asked}

    def form(self, files: dict[str, bytes]) -> tuple[str, str, dict]:
        """A form of the bench filled with what does not belong there."""
        form = self._choice(self.forms)
        fields: list[tuple[str, str]] = [("token", self.token)]
        sent: list[tuple[str, tuple[str, bytes]]] = []
        for name, kind, value in form["fields"]:
            if name == "token":
                continue
            if kind == "file":
                called = str(self._choice(list(files)))
                data = files[called]
                if self.rng.random() < 0.6 and len(data) < 5_000_000:
                    data = spoilt(data, self.rng)
                sent.append((name, (called, data)))
            elif self.rng.random() < 0.9:
                kept = value if self.rng.random() < 0.6 else self._nasty()
                fields.append((name, kept))
        if form["method"] == "get":
            return "GET", form["action"], {"params": fields[1:]}
        if form["files"] or sent:
            return (
                "POST",
                form["action"],
                {"data": _grouped(fields), "files": sent or [("none", ("", b""))]},
            )
        body = urlencode([(n, v.encode("utf-8", "surrogatepass")) for n, v in fields])
        return (
            "POST",
            form["action"],
            {"content": body, "headers": {"content-type": "application/x-www-form-urlencoded"}},
        )

    def body(self) -> tuple[str, str, dict]:
        """A request whose body is not what its head says."""
        form = self._choice(self.forms)
        kinds = [
            "multipart/form-data; boundary=x",
            "application/json",
            "text/plain",
            "",
            "x" * 500,
            "multipart/form-data",
            "application/x-www-form-urlencoded; charset=utf-16",
        ]
        bodies = [
            b"",
            b"--x\r\n",
            b"--x\r\nContent-Disposition: form-data; name=a\r\n\r\n" * 50,
            b"token=" + self.token.encode() + b"&a=%ff%fe",
            b"{" * 50_000,
            b"a=" + b"b" * 3_000_000,
            b"&" * 200_000,
            self.rng.bytes(5_000),
        ]
        method = str(self._choice(["POST", "PUT", "DELETE", "PATCH", "HEAD", "OPTIONS"]))
        headers = {
            "content-type": str(self._choice(kinds)),
            "x-ironlace-token": self.token,
            "origin": str(self._choice(["null", "http://a.example", self._here()])),
        }
        return method, form["action"], {"content": self._choice(bodies), "headers": headers}

    def script(self) -> tuple[str, str, dict]:
        """What a page's script might send, to any address that takes it."""
        method, path = self._choice(self.routes)
        steps = {"slug": self.slug, "key": "1", "name": "drawing 1", "kind": "mark"}
        for name in re.findall(r"{(\w+)(?::\w+)?}", path):
            with_step = steps.get(name, "1") if self.rng.random() < 0.8 else self._nasty()[:200]
            path = re.sub(rf"{{{name}(:\w+)?}}", lambda _, step=with_step: step, path)
        told = {
            str(self._choice(_KEYS)): self._value() for _ in range(int(self.rng.integers(0, 6)))
        }
        content = json.dumps(told).encode()
        if self.rng.random() < 0.2:
            content = spoilt(content, self.rng)
        headers = {"content-type": "application/json", "x-ironlace-token": self.token}
        return method, path, {"content": content, "headers": headers}

    def _value(self, depth: int = 0) -> object:
        draw = self.rng.random()
        if draw < 0.3:
            return self._nasty()
        if draw < 0.7 or depth > 2:
            return self._choice([0, -1, 1e308, 1e-300, 10**30, True, None, 0.5, [], {}, [[0, 0]]])
        if draw < 0.85:
            return [self._value(depth + 1) for _ in range(int(self.rng.integers(0, 40)))]
        return {str(self._choice(_KEYS)): self._value(depth + 1) for _ in range(3)}

    def _here(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def send(self, kind: str, method: str, path: str, how: dict) -> None:
        """Send one and note what came."""
        self.seen.kinds[kind] += 1
        told = f"{kind}: {method} {path[:150]!r} {str(how)[:300]}"
        begun = time.monotonic()
        try:
            answer = self.client.request(method, path, **how)
            self.seen.status[answer.status_code // 100] += 1
            if answer.status_code >= 500:
                self.seen.wrong.append(f"{answer.status_code} to {told}")
        except (httpx.InvalidURL, UnicodeEncodeError, ValueError):
            self.seen.kinds["not sent: no address"] += 1
        except httpx.TransportError as error:
            self.seen.wrong.append(f"no answer ({error!r}) to {told}")
        took = time.monotonic() - begun
        self.seen.slowest = sorted([*self.seen.slowest, (took, told)], reverse=True)[:8]
        if took > self.most_s:
            self.seen.wrong.append(f"{took:.1f} s for {told}")

    def bare(self) -> None:
        """Bytes that are no request."""
        self.seen.kinds["bare bytes"] += 1
        heads = [
            b"GET / HTTP/1.1\r\n" + b"X: " + b"a" * 100_000,
            b"\x16\x03\x01" + bytes(500),
            b"GET  /  HTTP/9.9\r\n\r\n",
            b"POST / HTTP/1.1\r\nContent-Length: -5\r\n\r\n",
            b"POST / HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
            bytes(5_000),
        ]
        with socket.create_connection(("127.0.0.1", self.port), timeout=MOST_S) as one:
            try:
                one.sendall(heads[int(self.rng.integers(0, len(heads)))])
                one.recv(1_000)
            except TimeoutError:
                pass  # held open: the bench closes it in its own time
            except OSError:
                pass  # closed at once, which is an answer


def _routes(folder: Path) -> tuple[list[tuple[str, str]], str]:
    """Every address that takes something, with its method; and a machine's name in addresses."""
    app = create_app(folder, foreman=False)
    try:
        found = [
            (method, route.path)
            for routes in app.routes
            for route in getattr(getattr(routes, "original_router", None), "routes", [routes])
            for method in sorted(getattr(route, "methods", None) or ())
            if method != "HEAD"
        ]
        return found, app.state.bench.records.all()[0].slug
    finally:
        app.state.bench.workshop.close()


def _grouped(fields: list[tuple[str, str]]) -> dict[str, list[str]]:
    grouped: dict[str, list[str]] = {}
    for name, value in fields:
        grouped.setdefault(name, []).append(value)
    return grouped


def _family(pid: int) -> list[int]:
    """A process and all it started."""
    found = [pid]
    for one in found:
        for task in Path(f"/proc/{one}/task").glob("*/children"):
            try:
                found += [int(child) for child in task.read_text().split()]
            except OSError:
                continue
    return found


def run(inputs: int, seed: int, most_s: float, *, light: bool = False) -> int:
    """Send so many; return how many things were not as they should be."""
    rng = np.random.default_rng(seed)
    files = files_at_hand(rng, light=light)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "workshop"
        _cli("restore", str(BACKUP), str(folder))
        bench = Bench(folder, rng, most_s)
        try:
            bench.look_round(most=30 if light else 150)
            print(f"{len(bench.pages)} pages, {len(bench.forms)} forms")
            with_files = [f for f in bench.forms if any(k == "file" for _, k, _ in f["fields"])]
            for n in range(inputs):
                draw = rng.random()
                if draw < 0.3:
                    bench.send("address", *bench.address())
                elif draw < 0.6:
                    bench.send("form", *bench.form(files))
                elif draw < 0.7:
                    bench.send("script", *bench.script())
                elif draw < 0.87:
                    every, bench.forms = bench.forms, with_files
                    bench.send("file", *bench.form(files))
                    bench.forms = every
                elif draw < 0.97:
                    bench.send("body", *bench.body())
                else:
                    bench.bare()
                if n % 500 == 499:
                    print(f"{n + 1}: {len(bench.seen.wrong)} wrong", flush=True)
            alive = bench.process.poll() is None
            seen = bench.seen
        finally:
            bench.close()
        # an entry that was changed makes findings stale, which is no fault
        checked = _cli("check", "--workshop", str(folder), may_fail=True)
        faults = [
            line
            for line in checked.stdout.splitlines()[1:] + checked.stderr.splitlines()
            if line and not line.startswith(("STALE", "All is well")) and "no longer" not in line
        ]
        left = [p.name for p in (folder / "incoming").glob("*")]
    wrong = list(seen.wrong)
    if not alive:
        wrong.append("the server ended")
    if seen.most_bytes > MOST_GB * 1e9:
        wrong.append(f"a process took {seen.most_bytes / 1e9:.2f} GB")
    wrong += [f"check: {line}" for line in faults]
    if left:
        wrong.append(f"left in incoming: {left[:5]}")
    if any("Traceback" in line for line in bench.said):
        wrong.append("a traceback in the log: " + "".join(bench.said)[-3_000:])
    print(f"sent {sum(seen.kinds.values())}: {dict(seen.kinds)}")
    print(f"answers by hundred: {dict(seen.status)}")
    print(f"most memory of a process {seen.most_bytes / 1e9:.2f} GB; slowest:")
    for took, told in seen.slowest[:4]:
        print(f"  {took:.2f} s {told[:160]}")
    for one in wrong[:40]:
        print("WRONG", one)
    print(f"{len(wrong)} wrong")
    return len(wrong)


def _cli(*words: str, may_fail: bool = False) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "ironlace", *words],
        capture_output=True,
        text=True,
        check=not may_fail,
        env=dict(os.environ),
    )


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--inputs", type=int, default=3_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--most-s", type=float, default=MOST_S, help="longest answer that is right")
    asked.add_argument("--light", action="store_true", help="without the costliest files")
    given = asked.parse_args()
    sys.exit(1 if run(given.inputs, given.seed, given.most_s, light=given.light) else 0)
