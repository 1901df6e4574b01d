"""Photographs: many taken in at once, looked through."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError
from ironlace.record import Photograph, PhotographRole
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep, bench_of, hand_of
from ironlace.web.incoming import FormDep, receive_body, token_in_header
from ironlace.web.pages.leafing import LeafDep, leaf_of
from ironlace.web.pages.machines import kept_lines
from ironlace.web.rendering import page
from ironlace.workshop.store.originals import Incoming
from ironlace.workshop.store.photographs import TakenIn

router = APIRouter()
_LONGEST_LINE = 300
"""Characters of a caption, a credit and a line of rights, as an entry holds them."""

_ON_A_LEAF = 48
"""Photographs on one leaf: rows of two, three, four and six come out whole."""


@router.get(addresses.photographs("{slug}"))
def photographs(
    request: Request, bench: BenchDep, slug: str, leaf: LeafDep, kept: str = ""
) -> Response:
    """Show a machine's photographs, the latest first, and the form for more."""
    return _photographs(request, bench, slug, leaf=leaf, kept=kept)


def _photographs(
    request: Request,
    bench: Bench,
    slug: str,
    *,
    leaf: int = 1,
    kept: str = "",
    outcomes: list[dict[str, str]] | None = None,
    values: dict[str, str] | None = None,
    status: int = 200,
) -> Response:
    record = bench.records.read(slug)
    role = request.query_params.get("role", "")
    lines = [(n, p) for n, p in record.of(Photograph) if not role or p.role.value == role]
    return page(
        request,
        "photographs.html",
        status=status,
        record=record,
        leaf=leaf_of(lines[::-1], leaf, _ON_A_LEAF),
        roles=list(PhotographRole),
        role=role,
        kept=kept_lines(record, kept),
        outcomes=outcomes or [],
        values=values or {},
    )


@router.post(addresses.photographs("{slug}"))
def take_in(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Take in the photographs of a form, each by itself, and tell what came of each."""
    said = _Said.of(form.one)
    outcomes = []
    for file in form.files:
        if file.incoming is None:
            outcomes.append({"came_as": file.came_as, "says": file.refused, "name": ""})
            continue
        try:
            taken = said.take_in(bench, slug, file.incoming, file.came_as, hand)
        except IronlaceError as error:
            outcomes.append({"came_as": file.came_as, "says": str(error), "name": ""})
            continue
        again = f"was here already, as {taken.name}" if taken.again else ""
        outcomes.append({"came_as": file.came_as, "says": again, "name": taken.name})
    refused = [o for o in outcomes if not o["name"]]
    if form.files and not any(o["says"] for o in outcomes):
        names = ",".join(o["name"] for o in outcomes[-40:])
        if form.one("back") == "machine":
            return RedirectResponse(addresses.machine(slug, kept=names), 303)
        return RedirectResponse(addresses.photographs(slug, kept=names), 303)
    if not form.files:
        outcomes = [{"came_as": "", "says": "No file was chosen: choose one or more.", "name": ""}]
    return _photographs(
        request,
        bench,
        slug,
        outcomes=outcomes,
        values=said.as_typed(),
        status=422 if refused or not form.files else 200,
    )


@router.put(addresses.photograph_upload("{slug}"))
async def take_in_one(request: Request, slug: str) -> Response:
    """Take in one photograph sent as it is, which lets a script show how far it has come."""
    bench = bench_of(request)
    token_in_header(request)
    came_as = request.query_params.get("came_as", "")[:200].replace("\\", "/").rpartition("/")[2]
    came_as = came_as or "the file"
    held = await receive_body(request, bench.workshop.store, bench.limits.photograph, came_as)

    def keep() -> Any:
        with held as incoming:
            said = _Said.of(lambda name: request.query_params.get(name, "").strip())
            return said.take_in(bench, slug, incoming, came_as, hand_of(request))

    taken = await run_in_threadpool(keep)
    return JSONResponse(
        {
            "name": taken.name,
            "again": taken.again,
            "at": addresses.entry(slug, taken.name),
            "view": addresses.view(taken.sha256, 320),
        }
    )


@dataclass(frozen=True, slots=True)
class _Said:
    """What is said of all photographs that come in together; what is left open stays unsaid."""

    role: PhotographRole
    caption: str
    credit: str
    rights: str
    published: bool

    @classmethod
    def of(cls, one: Callable[[str], str]) -> "_Said":
        """Read it from the fields of a form or an address."""
        role = one("role")
        return cls(
            PhotographRole(role) if role in set(PhotographRole) else PhotographRole.UNSAID,
            one("caption")[:_LONGEST_LINE],
            one("credit")[:_LONGEST_LINE],
            one("rights")[:_LONGEST_LINE],
            published=one("not_published") != "yes",
        )

    def take_in(
        self, bench: Bench, slug: str, incoming: Incoming, came_as: str, hand: str
    ) -> TakenIn:
        """Take one of them in."""
        return bench.photographs.take_in(
            slug,
            incoming,
            came_as,
            self.role,
            self.caption,
            credit=self.credit,
            rights=self.rights,
            published=self.published,
            by=hand,
        )

    def as_typed(self) -> dict[str, str]:
        """The same as the form holds it."""
        return {
            "role": "" if self.role is PhotographRole.UNSAID else self.role.value,
            "caption": self.caption,
            "credit": self.credit,
            "rights": self.rights,
            "not_published": "" if self.published else "yes",
        }
