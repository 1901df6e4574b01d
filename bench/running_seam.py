"""How well seams are measured, on the goals set for it: `--family sewn` or `drawn`, `--cases N`.

The family *sewn* was looked at while the measuring was made; *drawn* was not.
"""

import argparse
import resource
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

from ironlace.running.errors import RunningError  # noqa: E402
from ironlace.running.seam.bearing import Bearing, Origin, bearing  # noqa: E402
from ironlace.running.seam.seam_by_strip import seam_by_strip  # noqa: E402
from ironlace.running.seam.seam_measured import Scale, measure_seam  # noqa: E402
from ironlace.running.seam.seam_picture import SeamPicture  # noqa: E402

ILLS = ("lean", "pucker", "lint", "chalk", "loops", "curved")
NEAR_MM = 0.3
"""An end this near to a hole is that hole."""


def seconds():
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def measured(sewn):
    """What the command does, and its processor time after laying flat."""
    began = seconds()
    why = ()
    if sewn.dpi:
        picture, scale = SeamPicture(sewn.picture, sewn.dpi / 25.4), Scale("dpi")
    else:
        picture, scale, why = seam_by_strip(sewn.picture, sewn.layout)
    laid = seconds()
    found = measure_seam(picture, scale)
    judged = bearing(found, Origin(), sewn.dpi)
    judged = Bearing((*why, *judged.why), judged.notices)
    return found, judged, seconds() - laid, laid - began, bounds_of(picture)


def bounds_of(picture):
    """Where the picture that is measured begins and ends, mm: a frame's rim is left out of it."""
    low = np.array(picture.origin_mm)
    return low, low + np.array(picture.pixels.shape[1::-1]) / picture.px_per_mm


def compared(sewn, found, bounds):
    """Found against truth; holes within half a mm of where the picture is cut off do not count."""
    far = np.linalg.norm(found.places_mm[:, None] - sewn.holes_mm[None], axis=2)
    pairs = {}
    for hole in range(len(sewn.holes_mm)):
        end = int(far[:, hole].argmin())
        if far[end, hole] < NEAR_MM and end not in pairs.values():
            pairs[hole] = end
    low, high = bounds
    inner = ((sewn.holes_mm > low + 0.5) & (sewn.holes_mm < high - 0.5)).all(axis=1)
    share = np.mean([hole in pairs for hole in np.flatnonzero(inner)])
    extra = len(found.along_mm) - len(pairs)
    off, skips, missed, false = [], 0, 0, 0
    for hole in range(len(sewn.holes_mm) - 1):
        if hole not in pairs or hole + 1 not in pairs:
            continue
        between = abs(pairs[hole + 1] - pairs[hole])
        told = False
        if between == 1:
            got = abs(found.along_mm[pairs[hole + 1]] - found.along_mm[pairs[hole]])
            off.append(got - sewn.lengths_mm[hole])
            told = bool(found.stitches[min(pairs[hole], pairs[hole + 1])] > 1)
        # an end invented in the middle of a skip hides it
        skips += bool(sewn.skipped[hole])
        missed += bool(sewn.skipped[hole] and not told)
        false += bool(told and not sewn.skipped[hole])
    seen = ((sewn.holes_mm > low) & (sewn.holes_mm < high)).all(axis=1)
    single = sewn.lengths_mm[~sewn.skipped & seen[:-1] & seen[1:]]
    return {
        "share": float(share),
        "extra": extra,
        "off": float(np.median(np.abs(off))) if off else np.inf,
        "mean": found.figures.mean_mm[1] / single.mean() - 1.0,
        "cv": found.figures.cv[1] - single.std(ddof=1) / single.mean(),
        "skips": (skips, missed, false),
        "false_skips": int((found.stitches - 1)[~found.unseen].sum()) - int(sewn.skipped.sum()),
        "stitches": len(single),
    }


def cases_of(family, count, seed):
    rng = np.random.default_rng(seed)
    if family == "sewn":
        from sewn_seams import sewn, the_cases

        return ((case, sewn(rng, case)) for case in the_cases(rng, count))
    from sewn_seams_drawn import drawn, drawn_cases

    return ((case, drawn(rng, case)) for case in drawn_cases(rng, count))


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--family", choices=("sewn", "drawn"), default="sewn")
    words.add_argument("--cases", type=int, default=24)
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    rows = []
    for case, sewn in cases_of(asked.family, asked.cases, asked.seed):
        ills = [
            i for i in ("lean", "pucker", "lint", "chalk", "loops", "curved") if getattr(case, i)
        ]
        said = f"{case.cloth:13}{case.scanner:9}{' '.join(ills):32}"
        try:
            found, judged, spent, laying, bounds = measured(sewn)
        except RunningError as error:
            rows.append(None)
            print(said, "refused:", error)
            continue
        row = compared(sewn, found, bounds)
        row |= {"reliable": judged.reliable, "spent": spent, "laying": laying, "case": case}
        rows.append(row)
        print(
            f"{said} found {row['share']:.2f} extra {row['extra']} length {row['off']:.3f} mm mean "
            f"{row['mean']:+.2%}, cv {row['cv']:+.4f}, skips {row['skips']}, {spent:.1f} + "
            f"{laying:.1f} s {'' if judged.reliable else 'UNRELIABLE: ' + judged.why[0][:70]}",
            flush=True,
        )
    summed_up([row for row in rows if row], len(rows))


def summed_up(rows, count):
    good = [r for r in rows if r["share"] >= 0.97 and r["extra"] <= 1]
    worse = [r for r in rows if r["share"] < 0.9]
    scans = [r for r in good if r["case"].scanner != "phone"]
    phones = [r for r in good if r["case"].scanner == "phone"]
    skips = np.sum([r["skips"] for r in rows], axis=0)
    print(f"\n97 % of ends, at most one extra: {len(good)} of {count}")
    print(f"found in full and told reliable: {sum(r['reliable'] for r in good)} of {len(good)}")
    silent = sum(r["reliable"] for r in worse)
    print(f"under 90 % and told reliable: {silent} of {len(worse)}")
    trusted = [r["share"] for r in rows if r["reliable"]]
    print(f"told reliable: {len(trusted)}, their worst share {min(trusted, default=np.nan):.2f}")
    for name, part in (("scan", scans), ("phone", phones)):
        if part:
            print(
                f"{name}: length off by {np.median([r['off'] for r in part]):.3f} mm (worst case "
                f"{max(r['off'] for r in part):.3f}), mean by at most "
                f"{max(abs(r['mean']) for r in part):.2%}"
            )
    print(f"cv off by at most {max(abs(r['cv']) for r in good):.4f}")
    print(
        f"skips: {skips[0]}, missed {skips[1]}, false {skips[2]} in "
        f"{sum(r['stitches'] for r in rows)} stitches"
    )
    print(
        f"seconds: median {np.median([r['spent'] for r in rows]):.1f}, most "
        f"{max(r['spent'] for r in rows):.1f}; laying flat up to "
        f"{max(r['laying'] for r in rows):.1f}"
    )


if __name__ == "__main__":
    main()
