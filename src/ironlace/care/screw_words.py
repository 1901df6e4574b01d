"""What was found of a screw, in words, as a table and as plain figures: one telling for all."""

from typing import Any, Final

from ironlace.care.screw_photograph import ScrewFound
from ironlace.care.screw_plots import thread_stands
from ironlace.care.thread_forms import ThreadNamed
from ironlace.evidence.answers import Table

_FEW: Final = 5
"""Forms shown: more than anybody buys taps for."""


def named_in_words(named: ThreadNamed) -> str:
    """The likeliest thread in a few words: a form, or none of these."""
    family, _ = max(named.families.items(), key=lambda one: one[1])
    first = named.forms[0]
    if family == "none":
        return f"None of these: a maker's own (nearest: {first.form.size} {first.form.family})"
    of_it = next((one for one in named.forms if one.form.family == family), first)
    return f"{of_it.form.size} {of_it.form.family}"


def forms_table(named: ThreadNamed) -> Table:
    """The nearest forms with their chances, "none of these" among them by its chance."""
    rows = [
        (
            one.probability,
            (
                one.form.size,
                one.form.family,
                f"{100 * one.probability:.1f} %",
                f"{one.form.major_mm:.3f}",
                f"{one.form.pitch_mm:.4f}",
                f"{one.form.angle_deg:g}",
            ),
        )
        for one in named.forms[:_FEW]
    ]
    own = named.families["none"]
    rows.append((own, ("none of these", "a maker's own", f"{100 * own:.1f} %", "", "", "")))
    rows.sort(key=lambda one: -one[0])
    heads = ("Form", "Family", "Chance", "Diameter, mm", "Pitch, mm", "Angle, °")
    return Table("Nearest forms", heads, tuple(row for _, row in rows))


def forms_told(named: ThreadNamed) -> list[dict[str, Any]]:  # dict: plain JSON
    """The forms of a thread, likeliest first, as scripts read them."""
    return [
        {
            "size": one.form.size,
            "family": one.form.family,
            "major_mm": one.form.major_mm,
            "pitch_mm": one.form.pitch_mm,
            "angle_deg": one.form.angle_deg,
            "probability": one.probability,
        }
        for one in named.forms
    ]


def screw_told(found: ScrewFound) -> dict[str, Any]:  # dict: plain JSON
    """A screw as plain figures, by the names that scripts rely on."""
    angle = found.angle.angle_deg
    stands_mm, stands_share = thread_stands(found)
    return {
        "reliable": found.reliable,
        "why": found.why or None,
        "warnings": list(found.warnings),
        "pitch_mm": list(found.interval(found.pitch_mm, found.pitch_sd_mm)),
        "angle_deg": None if angle is None else list(found.interval(angle, found.angle.sd_deg)),
        "threads": found.threads,
        "starts": found.comb.starts,
        "lies": {
            "raised_deg": found.lie.raised_deg,
            "raised_sd_deg": found.lie.raised_sd_deg,
            "pitch_longer": found.lie.longer,
            "told_by": list(found.lie.told_by),
        },
        "thread_stands_mm": stands_mm,
        "thread_stands_share": stands_share,
        "families": found.named.families,
        "forms": forms_told(found.named),
        "tell_apart": found.named.tell_apart,
    }


def wear_in_words(found: ScrewFound) -> str:
    """How much of its threads still stands, in a sentence."""
    stands_mm, share = thread_stands(found)
    lost = max(0.0, 1.0 - share)
    return (
        f"Its threads stand {stands_mm:.2f} mm high, {100 * share:.0f} % of a full thread: wear "
        f"has taken {100 * lost:.0f} % at most, for blur lowers them too."
    )
