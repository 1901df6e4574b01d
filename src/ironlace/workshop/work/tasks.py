"""What a worker can be asked to do.

A task computes, keeping its stages, and returns the function that tells its result: that function
runs in the transaction which ends the job.
"""

from ironlace.workshop.work.in_hand import Task, Tell, Work


def trace(work: Work) -> Tell:
    """Trace the ornament of one photograph; adds a drawing to the record."""
    from ironlace.workshop.ornament.tracing import trace_photograph

    return trace_photograph(work)


def pack(work: Work) -> Tell:
    """Make a machine's pack in `derived/packs`."""
    from ironlace.workshop.hand_over.packing import make_pack

    place = f"packs/{work.slug}/{work.job.id}"
    make_pack(
        work.workshop,
        work.slug,
        work.workshop.derived / place,
        private=bool(work.job.asked.get("private")),
        hours_and_costs=bool(work.job.asked.get("hours_and_costs")),
        without=[str(name) for name in work.job.asked.get("without") or []],
        made=work.job.made_at,
        progress=work.stages.tell,
    )
    return lambda _session: {"pack": place}


def bag(work: Work) -> Tell:
    """Make a machine's package for the next owner in `derived/packages`."""
    from ironlace.workshop.hand_over.bagging import make_bag

    place = f"packages/{work.slug}/{work.job.id}"
    make_bag(
        work.workshop,
        work.slug,
        work.workshop.derived / place,
        private=bool(work.job.asked.get("private")),
        hours_and_costs=bool(work.job.asked.get("hours_and_costs")),
        packed_by=str(work.job.asked.get("packed_by") or ""),
        made=work.job.made_at,
        progress=work.stages.tell,
    )
    return lambda _session: {"bag": place}


def site(work: Work) -> Tell:
    """Write the public site of a machine or of the whole workshop, or bring it up to date."""
    from ironlace.workshop.hand_over.publishing import SiteAsked, make_site, site_place
    from ironlace.workshop.survey.call_made import CallAsked

    slug = work.job.slug or ""
    place = site_place(slug)
    said = ("base", "title", "keeper", "mail")
    told = {key: str(work.job.asked.get(key) or "") for key in said}
    written = make_site(
        work.workshop,
        work.workshop.derived / place,
        SiteAsked(told["base"], told["title"], CallAsked(keeper=told["keeper"], mail=told["mail"])),
        slug=slug,
        progress=work.stages.tell,
    )
    return lambda _session: {"site": place, "says": written.in_words()}


def take_in(work: Work) -> Tell:
    """Take a package of another workshop in."""
    from ironlace.workshop.hand_over.taking_over import take_over_as_job

    return take_over_as_job(work)


def sheets(work: Work) -> Tell:
    """Plan the stencil sheets of a drawing, and keep what was asked in the record."""
    from ironlace.workshop.stencils.stencilling import plan_as_job

    return plan_as_job(work)


def work_out(work: Work) -> Tell:
    """Work an analysis out, and keep what came of it in the record."""
    from ironlace.workshop import analyses

    analysis = analyses.analysis_named(str(work.job.asked.get("analysis")))
    record = work.workshop.records.read(work.slug)
    asked = analyses.asked_for(analysis, record, work.job.asked.get("asked") or {})
    worked = analyses.work_out(work.workshop, record, analysis, asked, work.stages)
    by = str(work.job.asked.get("by") or "")
    return lambda session: {
        "analysis": analysis.key,
        "kept": analyses.keep_in(work.workshop, session, work.slug, worked, by),
    }


def relief(work: Work) -> Tell:
    """Work a worn plate's relief out of its photographs; adds a finding to the record."""
    from ironlace.workshop.marks.plate_jobs import relief_as_job

    return relief_as_job(work)


def plate_check(work: Work) -> Tell:
    """Look photographs of a worn plate over."""
    from ironlace.workshop.marks.plate_jobs import check_as_job

    return check_as_job(work)


TASKS: dict[str, Task] = {
    "trace": trace,
    "pack": pack,
    "bag": bag,
    "site": site,
    "take in": take_in,
    "sheets": sheets,
    "work out": work_out,
    "relief": relief,
    "plate check": plate_check,
}
