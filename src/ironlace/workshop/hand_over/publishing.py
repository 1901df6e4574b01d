"""Making the public site: of one machine, or of the whole workshop, as strangers may read it."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from ironlace.dossier import Account
from ironlace.dossier.call_page import call_page
from ironlace.dossier.privacy import findings_over_time
from ironlace.dossier.site.corrections import additions_of, corrections_of
from ironlace.dossier.site.own_files import Written, write_changed
from ironlace.dossier.site.pages import CALL_PAGE, build_site
from ironlace.dossier.site.published import Published, base_address
from ironlace.dossier.site.whole_workshop import MachineOnSite, build_workshop_site
from ironlace.evidence.errors import IronlaceError
from ironlace.record import Mark
from ironlace.workshop.hand_over.chosen import choice_for
from ironlace.workshop.hand_over.packing import account_from, finding_words, stencils_of
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.survey.call_made import CallAsked, call_from, place_shown

NO_NUMBER = (
    "No number is told of this machine yet, so no other machine’s number is asked for. Whoever "
    "knows more of it is asked to tell whoever showed you this page."
)
NO_ADDRESS = (
    "No base address was given: no sitemap is written, for it needs absolute addresses, and no "
    "page names its own. Give the address where the site will stand."
)
_SHARE_FOR_ACCOUNTS = 0.7
"""Of the time a site takes (judged); only for the bar."""


@dataclass(frozen=True, slots=True)
class SiteAsked:
    """What a person says of a site; everything may be left empty, and nothing is guessed.

    Attributes
    ----------
    base
        Address of the folder on the web where the site will stand.
    title
        What the whole workshop is called on its first page.
    call
        What the calls for reports say: mailbox, keeper, and of one machine name, place, photograph.
    """

    base: str = ""
    title: str = ""
    call: CallAsked = field(default_factory=CallAsked)


def site_place(slug: str) -> str:
    """Where the site of a machine, or with '' the whole workshop's, lies below `derived`."""
    return f"sites/{slug}" if slug else "whole-site"


def make_site(
    workshop: Workshop,
    folder: Path,
    asked: SiteAsked,
    *,
    slug: str = "",
    progress: Callable[[str, float], None] | None = None,
) -> Written:
    """Write the site of a machine, or without one of the whole workshop, into a folder.

    Only what changed is written, only files of the site's own are taken away. Machines that were
    put away are not on the whole workshop's site.

    Raises
    ------
    IronlaceError
        When something that was asked for cannot be, or the folder holds something else; nothing is
        written then.
    """
    report = progress or (lambda _stage, _done: None)
    base = base_address(asked.base)
    if slug:
        account, published = _account(workshop, slug, asked, base)
        report("writing the pages", _SHARE_FOR_ACCOUNTS)
        return write_changed(folder, lambda place: build_site(account, place, report, published))
    if asked.call.photograph or asked.call.at or asked.call.where or asked.call.machine:
        raise IronlaceError(
            "What a machine is called, where its number sits and its photograph are said of one "
            "machine: name the machine, or leave them out."
        )
    machines = []
    slugs = sorted(one.slug for one in workshop.records.all() if one.put_away is None)
    for at, name in enumerate(slugs):
        report(f"gathering {name}", _SHARE_FOR_ACCOUNTS * at / len(slugs))
        under = f"{base}{name}/" if base else ""
        account, published = _account(workshop, name, asked, under)
        machines.append(MachineOnSite(account, published))
    whole = Published(
        # the moment the first record began: machines that come later do not change it
        seed="whole " + min((m.published.seed.rpartition(" ")[2] for m in machines), default=""),
        base=base,
        keeper=asked.call.keeper,
    )
    title = asked.title or "The machines of a workshop"
    return write_changed(
        folder, lambda place: build_workshop_site(title, machines, place, report, whole)
    )


def _account(
    workshop: Workshop, slug: str, asked: SiteAsked, base: str
) -> tuple[Account, Published]:
    """The account of a machine for strangers, and what is published with it."""
    choice = choice_for(workshop, slug)
    account = account_from(workshop, slug, stencils=stencils_of(workshop, slug, choice))
    record, changes = workshop.records.read(slug), workshop.records.whole_history(slug)
    versions = findings_over_time(record, changes, choice)
    call = _call(workshop, slug, account, asked.call, base)
    began = changes[0].made_at.isoformat() if changes else ""
    return account, Published(
        seed=f"{slug} {began}",
        base=base,
        keeper=asked.call.keeper,
        call=call,
        why_no_call="" if call else NO_NUMBER,
        corrections=corrections_of(
            versions, changes, account.record, finding_words(workshop, record)
        ),
        additions=additions_of(changes, account.record),
    )


def _call(workshop: Workshop, slug: str, account: Account, asked: CallAsked, base: str) -> str:
    """The page of the call; empty where no number is told that others could compare with."""
    if not any(account.record.of(Mark)):
        return ""
    record = workshop.records.read(slug)
    asked = CallAsked(
        asked.machine, asked.where, asked.keeper, asked.mail,
        asked.page or (f"{base}{CALL_PAGE}" if base else ""), asked.photograph, asked.at,
    )  # fmt: skip
    shown = place_shown(workshop, record, asked)
    return call_page(call_from(workshop, record, asked), shown, back="index.html")
