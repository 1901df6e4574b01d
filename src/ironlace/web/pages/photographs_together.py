"""Several photographs told at once what they are for, such as those a phone sent."""

from typing import Literal

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.record import Photograph, PhotographRole, Record
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import FormDep
from ironlace.web.pages.leafing import LeafDep, leaf_of
from ironlace.web.rendering import page
from ironlace.workshop.store.receipts import names_sent

router = APIRouter()
_ON_A_LEAF = 48
"""Photographs on one leaf, as on the page of all photographs."""

Which = Literal["", "phone", "unsaid", "all"]


@router.get(addresses.photographs_together("{slug}"))
def together(
    request: Request, bench: BenchDep, slug: str, leaf: LeafDep, which: Which = ""
) -> Response:
    """Show photographs to tick, and what is then said of all that are ticked."""
    return _together(request, bench, slug, which, leaf=leaf)


def _together(
    request: Request,
    bench: Bench,
    slug: str,
    which: Which,
    *,
    leaf: int = 1,
    says: str = "",
    status: int = 200,
    values: dict[str, str] | None = None,
    ticked: frozenset[str] = frozenset(),
) -> Response:
    record = bench.records.read(slug)
    sent = set(names_sent(bench.workshop.database, bench.records, slug))
    pictures = list(record.of(Photograph))
    shown = {
        "phone": [x for x in pictures if x[0] in sent],
        "unsaid": [x for x in pictures if x[1].role is PhotographRole.UNSAID],
        "all": pictures,
    }
    which = which or ("unsaid" if shown["unsaid"] else "phone" if shown["phone"] else "all")
    return page(
        request,
        "photographs_together.html",
        status=status,
        record=record,
        leaf=leaf_of(shown[which][::-1], leaf, _ON_A_LEAF),
        counts={name: len(found) for name, found in shown.items()},
        which=which,
        sent=sent,
        roles=list(PhotographRole),
        last_seen=bench.records.last_change(slug),
        says=says,
        values=values or {},
        ticked=ticked,
    )


@router.post(addresses.photographs_together("{slug}"))
def tell(
    request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str, which: Which = ""
) -> Response:
    """Set role, caption or both of the ticked photographs, all or none."""
    role, caption = form.one("role"), form.one("caption")[:300]
    ticked = form.many("photograph")
    try:
        _change(bench, slug, ticked, role, caption, form.number("last_seen"), hand)
    except IronlaceError as error:
        return _together(
            request,
            bench,
            slug,
            which,
            says=str(error),
            status=error.http_status,
            values={"role": role, "caption": caption},
            ticked=frozenset(ticked),
        )
    return RedirectResponse(addresses.photographs(slug, kept=",".join(ticked[-40:])), 303)


class TogetherError(IronlaceError):
    """What is to be said of several photographs is missing."""


def _change(
    bench: Bench,
    slug: str,
    names: list[str],
    role: str,
    caption: str,
    last_seen: int | None,
    hand: str,
) -> None:
    if not names:
        raise TogetherError("No photograph is ticked: tick those that are meant.")
    if role not in ("", *PhotographRole) or not (role or caption):
        raise TogetherError("Nothing is said of them: choose what they are for, or give a caption.")
    told: dict[str, str | PhotographRole] = {}
    if role:
        told["role"] = PhotographRole(role)
    if caption:
        told["caption"] = caption
    with bench.workshop.database.writing() as session:
        record = bench.records.read(slug)  # nobody else writes from here on
        for name in names:
            standing = _photograph(record, name)
            changed = standing.model_copy(update=told)
            if changed == standing:
                continue
            if last_seen is not None and bench.records.last_change_of(slug, name) > last_seen:
                raise ConflictError(
                    f"{name} was changed meanwhile, so none was: look at them again below."
                )
            bench.records.change_in(session, slug, name, changed, by=hand)


def _photograph(record: Record, name: str) -> Photograph:
    entry = record.named(name)
    if not isinstance(entry, Photograph):
        raise TogetherError(f"{name} is no photograph: tick photographs.")
    return entry
