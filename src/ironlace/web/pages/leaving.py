"""What leaves the workshop and what stays, each thing with its reason, to change one by one."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ironlace.dossier.leaving import Thing
from ironlace.dossier.privacy import Audience
from ironlace.evidence.errors import IronlaceError
from ironlace.record import Photograph
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import Form, FormDep
from ironlace.web.rendering import page
from ironlace.workshop.hand_over.chosen import LEAVES, STAYS, USUAL, choice_for, choose
from ironlace.workshop.hand_over.chosen import said_of as changes_of_choice
from ironlace.workshop.hand_over.chosen import things as things_leaving

router = APIRouter()
_AT_FIRST = 12
"""Things of a group on the page of all groups: what one glance takes in (judged)."""
_ON_A_PAGE = 200
"""Things on the page of one group: each original among them is read whole."""
_CHANGES_SHOWN = 5
"""Of the changes of the choice, the latest."""
_ORIGINALS = "original files"


@dataclass(frozen=True, slots=True)
class Group:
    """Things of one sort: those shown, how many there are, and how many of them stay."""

    name: str
    shown: tuple[Thing, ...]
    count: int
    stay: int | None

    @property
    def of_note(self) -> bool:
        """Whether anything in it stays, or would usually, so that it is to be looked at first."""
        return any(not t.leaves or not t.usual or t.also_in for t in self.shown) or bool(self.stay)


@router.get(addresses.leaving("{slug}"))
def leaving(
    request: Request, bench: BenchDep, slug: str, whom: str = "", group: str = "", start: int = 0
) -> Response:
    """Show what leaves and what stays for one audience."""
    return _shown(request, bench, slug, _audience(whom), group, max(start, 0))


@router.post(addresses.leaving("{slug}"))
def change(request: Request, bench: BenchDep, form: FormDep, hand: HandDep, slug: str) -> Response:
    """Keep what was chosen of the things that were shown, or of a whole group at once."""
    audience, group = _audience(form.one("whom")), form.one("group")
    start = form.number("start") or 0
    try:
        said = _said(bench, slug, audience, form)
        if said:
            choose(bench.workshop, slug, audience, said, by=hand)
    except IronlaceError as error:
        return _shown(request, bench, slug, audience, group, start, says=error)
    return RedirectResponse(addresses.leaving(slug, audience.value, group, start) + "#kept", 303)


def _audience(said: str) -> Audience:
    return Audience.NEXT_OWNER if said == Audience.NEXT_OWNER.value else Audience.STRANGERS


def _said(bench: Bench, slug: str, audience: Audience, form: Form) -> dict[str, str]:
    """What the form says otherwise than it stood; a whole group where its button was pressed."""
    choice = choice_for(bench.workshop, slug, private=audience is Audience.NEXT_OWNER)
    shown = {*form.many("shown")}
    photographs = {key.partition(":")[0] for key in shown}
    found = things_leaving(bench.workshop, slug, choice, look_into=photographs)
    word, _, of = form.one("all").partition(":")
    if of:
        if word not in (LEAVES, STAYS, USUAL):
            return {}
        return {t.key: word for t in found if t.group == of and not t.fixed}
    ticked = {*form.many("leaves")}
    said = {}
    for thing in found:
        if thing.key in shown and not thing.fixed and (thing.key in ticked) != thing.leaves:
            leaves = thing.key in ticked
            said[thing.key] = USUAL if leaves == thing.usual else (LEAVES if leaves else STAYS)
    return said


def _shown(
    request: Request,
    bench: Bench,
    slug: str,
    audience: Audience,
    group: str,
    start: int,
    *,
    says: IronlaceError | None = None,
) -> Response:
    record = bench.records.read(slug)
    choice = choice_for(bench.workshop, slug, private=audience is Audience.NEXT_OWNER)
    names = [name for name, _ in record.of(Photograph)]
    first, size = (start, _ON_A_PAGE) if group else (0, _AT_FIRST)
    look = names[first : first + size] if group in ("", _ORIGINALS) else []
    found = things_leaving(bench.workshop, slug, choice, look_into=look)
    groups = _groups(found, group, first, size)
    changes = changes_of_choice(bench.workshop, slug, audience)
    return page(
        request,
        "leaving.html",
        status=says.http_status if says else 200,
        record=record,
        says=str(says or ""),
        audience=audience.value,
        audiences=[one.value for one in Audience],
        groups=[one for one in groups if one.of_note],
        plain=[one for one in groups if not one.of_note],
        group=group,
        start=start,
        size=size,
        stay=sum(not t.leaves for t in found if t.group != _ORIGINALS),
        count=len(found),
        elsewhere=[t for t in found if t.also_in and not t.leaves],
        changes=list(reversed(changes))[:_CHANGES_SHOWN],
    )


def _groups(found: tuple[Thing, ...], only: str, first: int, size: int) -> list[Group]:
    by_name: dict[str, list[Thing]] = {}
    for thing in found:
        by_name.setdefault(thing.group, []).append(thing)
    return [
        Group(
            name,
            # on the page of all, what stays comes first, for it is what is looked for
            tuple(all_of[first : first + size] if only else _first(name, all_of, size)),
            len(all_of),
            None if name == _ORIGINALS and len(all_of) > size else _stay(all_of),
        )
        for name, all_of in by_name.items()
        if only in ("", name)
    ]


def _first(name: str, things: list[Thing], size: int) -> list[Thing]:
    if name == _ORIGINALS:
        return things[:size]
    return sorted(things, key=lambda thing: thing.leaves and thing.usual)[:size]


def _stay(things: list[Thing]) -> int:
    return sum(not thing.leaves for thing in things)
