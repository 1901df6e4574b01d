"""What members sent in to a club, and a reviewer's decision on each: asked of the club itself."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep
from ironlace.web.incoming import FormDep
from ironlace.web.rendering import page
from ironlace.workshop.club.address import ClubError, address_of
from ironlace.workshop.club.exchange import Link, link_of
from ironlace.workshop.club.ledger import Ledger, Offer
from ironlace.workshop.club.told import told_in_words

router = APIRouter()
_SHOWN = 100
"""What waits, shown at once; the others follow when these are decided (a judgement)."""
_TYPED = ("number", "do", "reason", "reads", "same_as")


@router.get(addresses.club_tray("{slug}"))
def club_tray(request: Request, bench: BenchDep, slug: str, done: str = "") -> Response:
    """Show what waits for a reviewer; the club's database is asked now."""
    return _page(request, bench, slug, done=done)


@router.post(addresses.club_tray("{slug}"))
def decided(request: Request, bench: BenchDep, form: FormDep, slug: str) -> Response:
    """Decide on one thing that was sent in."""
    link = _link(bench, slug)
    typed = {name: form.one(name).strip() for name in _TYPED}
    try:
        with Ledger(address_of(link.address)) as ledger:
            ledger.club()
            became = ledger.reviewed(
                _number(typed["number"], "what was sent in"),
                kept=_kept(typed["do"]),
                reason=typed["reason"],
                reads=typed["reads"],
                same_as=_number(typed["same_as"], "the report") if typed["same_as"] else None,
            )
    except IronlaceError as error:
        return _page(request, bench, slug, status=error.http_status, says=str(error), typed=typed)
    done = f"{typed['number']}-{'turned-down' if became is None else became.report}"
    return RedirectResponse(addresses.club_tray(slug, done), 303)


def _kept(said: str) -> bool:
    if said not in ("keep", "turn down"):
        raise ClubError("Say which: keep it, or turn it down with the reason.")
    return said == "keep"


def _number(text: str, of: str) -> int:
    if not text.isdecimal():
        raise ClubError(f"“{text[:40]}” is no number of {of}: give it in figures.")
    return int(text)


def _link(bench: Bench, slug: str) -> Link:
    survey = bench.records.survey_of(slug)
    if survey is None:
        raise NotFoundError("This machine has no survey that a club could keep.")
    return link_of(bench.workshop, survey)


def _page(
    request: Request,
    bench: Bench,
    slug: str,
    *,
    done: str = "",
    status: int = 200,
    says: str = "",
    typed: dict[str, str] | None = None,
) -> Response:
    link = _link(bench, slug)
    offers: list[Offer] = []
    review, unheard = False, ""
    try:
        with Ledger(address_of(link.address)) as ledger:
            ledger.club()
            review = ledger.rights().review
            offers = ledger.offers()
    except IronlaceError as error:  # told on the page: without the club's network it stays empty
        unheard, status = str(error), error.http_status
    return page(
        request,
        "club_tray.html",
        status=status,
        slug=slug,
        link=link,
        review=review,
        unheard=unheard,
        offers=[(one, told_in_words(one.told)) for one in offers[:_SHOWN]],
        total=len(offers),
        done=done.partition("-")[0],
        became=done.partition("-")[2].replace("-", " "),
        says=says,
        typed=typed or {},
    )
