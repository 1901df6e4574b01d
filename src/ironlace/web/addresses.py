"""Every address of the bench, made in this one place.

Pages and templates ask here and never paste an address together. The paths that the routes answer
to are the same functions called with placeholders, so the two cannot part.
"""

from urllib.parse import quote, urlencode

HOME = "/"


def _path(*steps: str | int) -> str:
    return "/" + "/".join(quote(str(step), safe="{}:") for step in steps)


def _with(path: str, **query: str | int | None) -> str:
    given = {key: value for key, value in query.items() if value not in (None, "")}
    return f"{path}?{urlencode(given)}" if given else path


def home() -> str:
    """The workshop: its machines."""
    return HOME


def static(digest: str, name: str) -> str:
    """A style sheet, script or picture of the bench itself."""
    return _path("static", digest, name)


def icon() -> str:
    """The picture that browsers ask for by themselves, for a page that names none."""
    return _path("favicon.ico")


def machines() -> str:
    """Where a new machine is made."""
    return _path("machines")


def machine(slug: str, step: str | None = None, kept: str | None = None) -> str:
    """A machine's page, opened at a step, telling what was just kept."""
    return _with(_path("machine", slug), step=step, kept=kept)


def whole_record(slug: str, page: int | None = None) -> str:
    """Every entry of a machine on one page."""
    return _with(_path("machine", slug, "whole"), page=page)


def put_away(slug: str) -> str:
    """Where a machine is put away, or brought back."""
    return _path("machine", slug, "put-away")


def rename(slug: str) -> str:
    """Where a machine is given another name."""
    return _path("machine", slug, "name")


def entries(slug: str, kind: str, page: int | None = None, kept: str | None = None) -> str:
    """All entries of a kind."""
    return _with(_path("machine", slug, "entries", kind), page=page, kept=kept)


def new_entry(slug: str, kind: str) -> str:
    """The form for a new entry."""
    return _path("machine", slug, "entries", kind, "new")


def entry(slug: str, name: str, kept: str | None = None) -> str:
    """One entry by its name, such as `mark 3`."""
    kind, _, key = name.partition(" ")
    return _with(entry_path(slug, kind, key), kept=kept)


def entry_path(slug: str, kind: str, key: str | int) -> str:
    """One entry by kind and number."""
    return _path("machine", slug, "entries", kind, key)


def readings_table(slug: str, key: str | int) -> str:
    """A table of readings as CSV."""
    return _path("machine", slug, "readings", key, "table.csv")


def change_entry(slug: str, name: str) -> str:
    """The form that changes an entry."""
    return f"{entry(slug, name)}/change"


def withdraw_entry(slug: str, name: str) -> str:
    """Where an entry is withdrawn."""
    return f"{entry(slug, name)}/withdraw"


def photographs(slug: str, page: int | None = None, kept: str | None = None) -> str:
    """A machine's photographs."""
    return _with(_path("machine", slug, "photographs"), page=page, kept=kept)


def photograph_upload(slug: str) -> str:
    """Where a script sends one photograph as it is."""
    return _path("machine", slug, "photographs", "one")


def photographs_together(slug: str, which: str = "", page: int | None = None) -> str:
    """Where several photographs are told at once what they are for."""
    return _with(_path("machine", slug, "photographs", "together"), which=which, page=page)


def view(sha256: str, size: int | str) -> str:
    """A photograph in a handy size."""
    return _path("view", sha256, f"{size}.jpg")


def original(sha256: str) -> str:
    """An original, as it came."""
    return _path("original", sha256)


def history(slug: str, before: int | None = None, kept: str | None = None) -> str:
    """Every change of a record."""
    return _with(_path("machine", slug, "history"), before=before, kept=kept)


def as_it_stood(
    slug: str, on: str | None = None, kind: str | None = None, page: int | None = None
) -> str:
    """The record as it stood at the end of a day."""
    return _with(_path("machine", slug, "as-it-stood"), on=on, kind=kind, page=page)


def undo(slug: str, number: int | str) -> str:
    """Where a change is taken back."""
    return _path("machine", slug, "history", number, "undo")


def analyses(slug: str) -> str:
    """Everything that can be worked out for a machine."""
    return _path("machine", slug, "work-out")


def analysis(slug: str, key: str, subject: str = "", kept: str | None = None) -> str:
    """One analysis: its form, what came of it, what is kept of it."""
    return _with(_path("machine", slug, "work-out", key), of=subject, kept=kept)


def analysis_keep(slug: str, key: str) -> str:
    """Where what was worked out is kept."""
    return _path("machine", slug, "work-out", key, "keep")


def analysis_plot(slug: str, key: str, at: str, number: int | str) -> str:
    """A plot of an answer that was just worked out."""
    return _path("machine", slug, "work-out", key, "at", at, "plot", number)


def analysis_file(slug: str, key: str, at: str, name: str) -> str:
    """A file of an answer that was just worked out."""
    return _path("machine", slug, "work-out", key, "at", at, "file", name)


def dating(slug: str, kept: str | None = None, **asked: str) -> str:
    """Reports, theories of the numbering, the date; what is asked for stands in its fields."""
    return _with(_path("machine", slug, "dating"), kept=kept, **asked)


def dating_keep(slug: str) -> str:
    """Where a date is kept as a finding."""
    return _path("machine", slug, "dating", "keep")


def dating_as_typed(slug: str, **asked: str) -> str:
    """How a report that is being typed would move the odds, for a script."""
    return _with(_path("machine", slug, "dating", "as-typed"), **asked)


def theory(slug: str, **asked: str) -> str:
    """Where a theory is put together from parts."""
    return _with(_path("machine", slug, "dating", "theory"), **asked)


def open_survey(slug: str) -> str:
    """Where the reports are made ready to be published."""
    return _path("machine", slug, "dating", "publish")


def open_survey_zip(slug: str, **about: str) -> str:
    """The reports as open data, in one file."""
    return _with(_path("machine", slug, "dating", "survey.zip"), **about)


def survey_record(slug: str, **shown: str) -> str:
    """The survey of a machine, or one by its own name: its machines, reports and releases."""
    return _with(_path("machine", slug, "survey"), **shown)


def survey_shared(slug: str) -> str:
    """Where a machine is given another survey."""
    return _path("machine", slug, "survey", "share")


def survey_named(slug: str) -> str:
    """Where a survey is called otherwise."""
    return _path("machine", slug, "survey", "name")


def survey_club(slug: str) -> str:
    """Where a survey joins a club's, is exchanged with it, or leaves it."""
    return _path("machine", slug, "survey", "club")


def club_tray(slug: str, done: str | None = None) -> str:
    """What members sent in to the club that a survey is kept with, for its reviewers.

    `done` is the number of what was just decided on, and what became of it.
    """
    return _with(_path("machine", slug, "survey", "club", "waiting"), done=done)


def survey_releases(slug: str) -> str:
    """Where a release of a survey is made."""
    return _path("machine", slug, "survey", "releases")


def survey_release(slug: str, number: int | str) -> str:
    """The open data of one release, in one file."""
    return _path("machine", slug, "survey", "releases", number, "survey.zip")


def same_machine(slug: str) -> str:
    """Where a report is told to be a second sighting of one machine."""
    return _path("machine", slug, "dating", "same")


def survey(slug: str, **asked: str) -> str:
    """What else the reports say: plots, totals, survivors, what to ask for next."""
    return _with(_path("machine", slug, "dating", "more"), **asked)


def survey_plot(slug: str, number: int | str, **asked: str) -> str:
    """One plot of the survey, as a picture."""
    return _with(_path("machine", slug, "dating", "plot", number), **asked)


def report_table(slug: str) -> str:
    """Where a table of reports is looked over before it counts."""
    return _path("machine", slug, "dating", "table")


def report_table_keep(slug: str) -> str:
    """Where the chosen lines of a table become reports."""
    return _path("machine", slug, "dating", "table", "keep")


def pasted_text(slug: str) -> str:
    """Where numbers are looked for in pasted text, before any counts."""
    return _path("machine", slug, "dating", "pasted")


def pasted_text_keep(slug: str) -> str:
    """Where the chosen numbers of a pasted text become reports."""
    return _path("machine", slug, "dating", "pasted", "keep")


def call_for_reports(slug: str, **asked: str) -> str:
    """Where a call for reports is made."""
    return _with(_path("machine", slug, "dating", "call"), **asked)


def call_file(slug: str, name: str, **asked: str) -> str:
    """One file of a call: the page, a card, the text."""
    return _with(_path("machine", slug, "dating", "call", name), **asked)


def tray(slug: str, kept: str | None = None) -> str:
    """Reports that were sent in and wait; where one is laid in."""
    return _with(_path("machine", slug, "tray"), kept=kept)


def tray_decision(slug: str) -> str:
    """Where it is decided on a report that waits."""
    return _path("machine", slug, "tray", "decide")


def tray_taken_back(slug: str) -> str:
    """Where a decision is taken back."""
    return _path("machine", slug, "tray", "take-back")


def tray_thanks(slug: str) -> str:
    """Who sent what, as text."""
    return _path("machine", slug, "tray", "thanks.txt")


def lenses() -> str:
    """Lenses measured with the chart."""
    return _path("lenses")


def lens_forget(number: str | int) -> str:
    """Where a lens is forgotten."""
    return _path("lenses", number, "forget")


def ornament(slug: str) -> str:
    """Ornament: how to photograph it, and its drawings."""
    return _path("machine", slug, "ornament")


def trace(slug: str, key: str | int, *, after: int | None = None) -> str:
    """Tracing the ornament on one photograph; again, after a job that was refused."""
    return _with(_path("machine", slug, "ornament", "trace", key), after=after)


def plates(slug: str, check: str | None = None) -> str:
    """Worn plates: photographs to choose, looked over, and those whose relief is kept."""
    return _with(_path("machine", slug, "plates"), check=check)


def plate(slug: str, key: str | int) -> str:
    """A plate by its finding's number: seen under a torch, and read."""
    return _path("machine", slug, "plates", key)


def plate_view(slug: str, key: str | int, **asked: str | int | None) -> str:
    """A picture of a plate under a torch."""
    return _with(_path("machine", slug, "plates", key, "view.png"), **asked)


def plate_surface(slug: str, key: str | int) -> str:
    """What a script lights a plate from."""
    return _path("machine", slug, "plates", key, "surface.bin")


def plate_again(slug: str, key: str | int) -> str:
    """Where a plate's relief is made again."""
    return _path("machine", slug, "plates", key, "again")


def plate_read(slug: str, key: str | int) -> str:
    """Where a person's own reading of a plate is kept, and the method's asked for."""
    return _path("machine", slug, "plates", key, "read")


def plate_to_survey(slug: str, key: str | int) -> str:
    """Where a row of a plate's reading becomes a mark that the survey goes on with."""
    return _path("machine", slug, "plates", key, "survey")


def motion_readings(slug: str, **asked: str) -> str:
    """Where readings of a head's motion are called out one after another."""
    return _with(_path("machine", slug, "motion", "readings"), **asked)


def degree_disc() -> str:
    """The degree disc for the hand wheel, to print."""
    return _path("degree-disc.pdf")


def threading(slug: str, of: str | None = None, photograph: str | None = None) -> str:
    """Where a threading plan is touched on photographs; `of` is one that is kept."""
    return _with(_path("machine", slug, "threading"), of=of, photograph=photograph)


def threading_diagram(slug: str, key: str | int) -> str:
    """The diagram of a threading plan."""
    return _path("machine", slug, "threading", key, "diagram.svg")


def threading_card(slug: str, key: str | int) -> str:
    """The card of a threading plan, to print."""
    return _path("machine", slug, "threading", key, "card.pdf")


def threading_steps(slug: str, key: str | int) -> str:
    """The steps of a threading plan, as text."""
    return _path("machine", slug, "threading", key, "steps.txt")


def oiling(slug: str, kept: str | None = None) -> str:
    """Where an oiling plan is touched on a photograph, and kept."""
    return _with(_path("machine", slug, "oiling"), kept=kept)


def oiling_card(slug: str) -> str:
    """The card of the oiling plan that is kept, to print."""
    return _path("machine", slug, "oiling", "card.pdf")


def oiling_wall_card(slug: str) -> str:
    """The same for the wall, A4."""
    return _path("machine", slug, "oiling", "wall-card.pdf")


def oiling_calendar(slug: str) -> str:
    """The days of the oiling plan that is kept, for a calendar."""
    return _path("machine", slug, "oiling", "due.ics")


def seam(
    slug: str, of: str | None = None, against: str | None = None, kept: str | None = None
) -> str:
    """Where a test seam is measured on a kept picture, and two are compared."""
    return _with(_path("machine", slug, "seam"), of=of, against=against, kept=kept)


def seam_marked(slug: str, row: str | int, of: str | None = None, at: str | None = None) -> str:
    """One row of a seam's picture with every end marked; `at` is an answer not kept yet."""
    return _with(_path("machine", slug, "seam", "marked", f"{row}.jpg"), of=of, at=at)


def seam_lengths(slug: str, of: str | None = None, at: str | None = None) -> str:
    """The plot of a seam's stitch lengths."""
    return _with(_path("machine", slug, "seam", "lengths.svg"), of=of, at=at)


def trials(slug: str, kept: str | None = None, begin: str | None = None) -> str:
    """The log of trials: what was changed, what came of it, what to try next.

    `begin` is "next" where the form of another trial begins with what is proposed.
    """
    return _with(_path("machine", slug, "trials"), kept=kept, begin=begin)


def screw(slug: str, of: str = "", kept: str | None = None) -> str:
    """Where a screw is read in its photograph, and kept."""
    return _with(_path("machine", slug, "screw"), of=of or None, kept=kept)


def screw_picture(slug: str, at: str) -> str:
    """A screw that was just read, with its edges and the comb of its pitch."""
    return _path("machine", slug, "screw", "at", at, "picture.svg")


def screw_card(paper: str) -> str:
    """The card that a screw is photographed on, to print."""
    return _path("screw-card", f"{paper}.pdf")


def touching(slug: str, kept: str | None = None) -> str:
    """Where the things that touch the machine are numbered on a photograph, and kept."""
    return _with(_path("machine", slug, "touches"), kept=kept)


def touching_sheet(slug: str, at: str, paper: str) -> str:
    """The list of what touches the machine, on a sheet that stays with it."""
    return _path("machine", slug, "touches", "at", at, f"touches-{paper}.pdf")


def base(slug: str, kept: str | None = None) -> str:
    """Where a base for the machine is worked out, looked at and kept."""
    return _with(_path("machine", slug, "base"), kept=kept)


def base_sheet(slug: str, at: str, paper: str) -> str:
    """The true-scale drawing of a base that was just worked out, on paper."""
    return _path("machine", slug, "base", "at", at, f"base-{paper}.pdf")


def base_moved(slug: str, at: str) -> str:
    """What a base that was just worked out would give with other feet, overhang or height."""
    return _path("machine", slug, "base", "at", at, "moved.json")


def base_mended(slug: str, at: str) -> str:
    """An outline that was changed by hand on its photograph, in the bed's axes."""
    return _path("machine", slug, "base", "at", at, "mended.json")


def base_outline(slug: str, at: str) -> str:
    """The outline found, drawn on the photograph of the bed."""
    return _path("machine", slug, "base", "at", at, "outline.svg")


def strip(piece: str, paper: str) -> str:
    """A scale strip to print."""
    return _path("strip", f"{piece}-{paper}.pdf")


def drawing_flat(slug: str, key: str | int) -> str:
    """The flattened photograph under a drawing."""
    return _path("machine", slug, "drawing", key, "flat.jpg")


def drawing_svg(slug: str, key: str | int) -> str:
    """A drawing in millimetres."""
    return _path("machine", slug, "drawing", key, "drawing.svg")


def drawing_pdf(slug: str, key: str | int, paper: str) -> str:
    """A drawing at true scale."""
    return _path("machine", slug, "drawing", key, f"true-scale-{paper}.pdf")


def sheets(slug: str, key: str | int, **asked: str) -> str:
    """Stencil sheets of a drawing."""
    return _with(_path("machine", slug, "drawing", key, "sheets"), **asked)


def test_card() -> str:
    """The card that tells what a material and cutter can do."""
    return _path("test-card.svg")


def sheets_do(slug: str, key: str | int) -> str:
    """Where a bridge is locked, moved or forbidden, or a step taken back."""
    return _path("machine", slug, "drawing", key, "sheets", "do")


def sheets_places(slug: str, key: str | int) -> str:
    """Where a bridge could be moved to, for a script."""
    return _path("machine", slug, "drawing", key, "sheets", "places")


def sheets_file(
    slug: str,
    key: str | int,
    hold: str,
    file: str,
    v: str | None = None,
    bed: str | None = None,
) -> str:
    """One file of a drawing's stencil sheets, held one way or the other; in parts for a bed too."""
    return _with(_path("machine", slug, "drawing", key, "sheets", hold, file), v=v, bed=bed)


def drawing_film(slug: str, key: str | int, kind: str) -> str:
    """A drawing as a film positive."""
    return _path("machine", slug, "drawing", key, f"film.{kind}")


def drawing_wrapped(slug: str, key: str | int) -> str:
    """A drawing as it will look on its arm or pillar."""
    return _path("machine", slug, "drawing", key, "wrapped.svg")


def proof(slug: str, key: str | int) -> str:
    """A drawing laid back on its photograph, to see whether it falls on the traces."""
    return _path("machine", slug, "drawing", key, "proof")


def proof_picture(slug: str, key: str | int) -> str:
    """The picture of that."""
    return _path("machine", slug, "drawing", key, "proof.jpg")


def rework(slug: str, key: str | int) -> str:
    """A drawing at the bench, to be changed by hand."""
    return _path("machine", slug, "drawing", key, "bench")


def rework_state(slug: str, key: str | int) -> str:
    """The drawing at the bench as it stands, for a script."""
    return _path("machine", slug, "drawing", key, "bench", "state.json")


def rework_change(slug: str, key: str | int) -> str:
    """Where one change by hand is made."""
    return _path("machine", slug, "drawing", key, "bench", "change")


def rework_twin(slug: str, key: str | int) -> str:
    """Where a place to be filled is shown with what would be laid into it."""
    return _path("machine", slug, "drawing", key, "bench", "twin")


def rework_axis(slug: str, key: str | int) -> str:
    """Where the mirror axis of a drawing is looked for."""
    return _path("machine", slug, "drawing", key, "bench", "axis")


def rework_back(slug: str, key: str | int) -> str:
    """Where the last change by hand is taken back."""
    return _path("machine", slug, "drawing", key, "bench", "back")


def rework_again(slug: str, key: str | int) -> str:
    """Where a change by hand that was taken back is made again."""
    return _path("machine", slug, "drawing", key, "bench", "again")


def rework_keep(slug: str, key: str | int) -> str:
    """Where a drawing changed by hand is kept as a new drawing."""
    return _path("machine", slug, "drawing", key, "bench", "keep")


def rework_give_up(slug: str, key: str | int) -> str:
    """Where all changes by hand to a drawing are given up."""
    return _path("machine", slug, "drawing", key, "bench", "give-up")


def drawing_back(slug: str, key: str | int) -> str:
    """Where a drawing that was edited elsewhere comes back."""
    return _path("machine", slug, "drawing", key, "edited")


def job(number: int | str) -> str:
    """A long job: how far it has come."""
    return _path("job", number)


def job_progress(number: int | str) -> str:
    """The same for a script."""
    return f"{job(number)}/progress.json"


def job_stop(number: int | str) -> str:
    """Where a job is stopped."""
    return f"{job(number)}/stop"


def job_away(number: int | str) -> str:
    """Where a failed job is put away."""
    return f"{job(number)}/away"


def job_again(number: int | str) -> str:
    """Where a job is started again."""
    return f"{job(number)}/again"


def pack(slug: str) -> str:
    """The pack: made, looked at, taken along."""
    return _path("machine", slug, "pack")


def pack_file(slug: str, number: int | str, file: str) -> str:
    """One file of a pack."""
    return f"{_path('machine', slug, 'pack', number, 'file')}/{quote(file, safe='/{}:')}"


def pack_whole(slug: str, number: int | str) -> str:
    """A whole pack in one archive."""
    return _path("machine", slug, "pack", number, "pack.zip")


def site(slug: str) -> str:
    """Where the public site is asked for."""
    return _path("machine", slug, "site")


def site_file(slug: str, file: str) -> str:
    """One file of the public site."""
    return f"{_path('machine', slug, 'site', 'file')}/{quote(file, safe='/{}:')}"


def site_whole(slug: str, number: int | str) -> str:
    """The whole public site in one archive."""
    return _path("machine", slug, "site", number, "site.zip")


def whole_site() -> str:
    """The public site of the whole workshop: asked for, looked at, taken along."""
    return _path("site")


def whole_site_file(file: str) -> str:
    """One file of the whole workshop's public site."""
    return f"{_path('site', 'file')}/{quote(file, safe='/{}:')}"


def whole_site_archive(number: int | str) -> str:
    """The whole workshop's public site in one archive."""
    return _path("site", number, "site.zip")


def leaving(
    slug: str, whom: str | None = None, group: str | None = None, start: int | None = None
) -> str:
    """What leaves and what stays, for one audience; one group of it, from a place on."""
    return _with(_path("machine", slug, "leaving"), whom=whom, group=group, start=start or None)


def film(slug: str, chapters: str | None = None) -> str:
    """Notes for a film of the machine, with chapters as they were typed."""
    return _with(_path("machine", slug, "film"), chapters=chapters)


def film_file(slug: str, file: str, chapters: str | None = None) -> str:
    """One file of these notes, or all of them in one archive."""
    return _with(_path("machine", slug, "film", file), chapters=chapters)


def package(slug: str) -> str:
    """The package for the next owner: made, and taken along."""
    return _path("machine", slug, "package")


def package_whole(slug: str, number: int | str) -> str:
    """A whole package in one archive."""
    return _path("machine", slug, "package", number, "package.zip")


def take_in() -> str:
    """Where a package of another workshop is taken in."""
    return _path("take-in")


def care() -> str:
    """Care of the workshop itself."""
    return _path("care")


def care_check() -> str:
    """Where the workshop is checked."""
    return _path("care", "check")


def care_backup() -> str:
    """Where a backup is made and handed over."""
    return _path("care", "backup")


def care_hand() -> str:
    """Where the name is given that goes with each change."""
    return _path("care", "hand")


def reading() -> str:
    """How a mark, a date or a quantity reads as written, for a script."""
    return _path("reading")


def phone(machine: str = "") -> str:
    """The door for one phone, as the computer sees it; for a machine if one is named."""
    return _with(_path("phone"), machine=machine)


def phone_open() -> str:
    """Where the door is opened."""
    return _path("phone", "open")


def phone_close() -> str:
    """Where it is closed, and the session with it."""
    return _path("phone", "close")


def phone_code() -> str:
    """Where a new code is asked for, for the first phone or another instead of it."""
    return _path("phone", "code")


def phone_work() -> str:
    """Where is said for which machine the phone works, and what is to be read now."""
    return _path("phone", "work")


def phone_state() -> str:
    """How the door stands, for a script."""
    return _path("phone", "state.json")


def door_home() -> str:
    """On the phone's door: its one page."""
    return "/"


def door_join() -> str:
    """On the phone's door: where the code is typed in."""
    return _path("join")


def door_leave() -> str:
    """On the phone's door: where a phone goes out again."""
    return _path("leave")


def door_state() -> str:
    """On the phone's door: what the joined phone works for."""
    return _path("state.json")


def door_photograph() -> str:
    """On the phone's door: where a photograph comes in."""
    return _path("photograph")


def door_reading() -> str:
    """On the phone's door: where a reading comes in."""
    return _path("reading")


def door_reads() -> str:
    """On the phone's door: how a number called out is understood."""
    return _path("reads.json")


def door_motion() -> str:
    """On the phone's door: where readings of a head's motion are called out."""
    return _path("motion")
