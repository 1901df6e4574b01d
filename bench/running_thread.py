"""How near slack, snatch and what is left come to a thread that was pulled step by step.

    python bench/running_thread.py --family plain --cases 20 --seed 1 --heads belled --no-guides

Heads are those of tests/truth/turned_heads.py, the thread that of tests/truth/sewn_thread.py;
`aside` is held back.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth")]

import sewn_thread  # noqa: E402
import turned_heads  # noqa: E402
from ironlace.evidence.analyses import Known, KnownColumn, KnownTable, Nothing  # noqa: E402
from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.evidence.progress import Steps  # noqa: E402
from ironlace.running.thread.thread_asked import ThreadAsked  # noqa: E402
from ironlace.running.thread.thread_told import THREAD  # noqa: E402


def asked_of(made, rng, *, guides=True, mm=0.1, deg=1.0):
    """What a person reads of it in an evening."""
    head = made.head
    head.motions["feed"] = sewn_thread.feed_of(made) + 2.0
    turns = np.arange(0.0, 360.0, 10.0)
    names = ("needle bar", "take-up", "shuttle", "feed")
    read, _ = turned_heads.readings(head, turns, names, rng, mm=mm, deg=deg, misread=0.0)
    columns = tuple(
        KnownColumn(n, "deg" if n == "wheel" else "mm", tuple(map(float, v)))
        for n, v in read.items()
        if n != "opposite"
    )

    def known(value, error):
        return Known(float(value + error * rng.standard_normal()), error, "mm")

    def pairs(heads, rows):
        return KnownTable(
            tuple(
                KnownColumn(h, "mm", tuple(float(r[k]) for r in rows)) for k, h in enumerate(heads)
            )
        )

    return ThreadAsked(
        KnownTable(columns),
        known(made.stitch, 0.05),
        known(made.thick, 0.05),
        known(made.eye_at_plate, 0.2),
        known(made.given_out, 1.0),
        pairs(("aside", "below"), made.guides) if guides else None,
        known(head.meeting, 0.1),
        pairs(("past", "loop"), made.loop),
        turning="rise",
    )


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--family", choices=sewn_thread.FAMILIES, default="plain")
    words.add_argument("--cases", type=int, default=12)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--heads", default="cranked", help="a family of turned_heads.py")
    words.add_argument("--no-guides", action="store_true", help="share the thread out linearly")
    said = words.parse_args()
    rng = np.random.default_rng(said.seed)
    rows, refused = [], 0
    for _ in range(said.cases):
        head = turned_heads.head(said.heads, rng)
        # as heads are timed: the take-up highest before the needle enters the cloth again
        head.motions["take-up"] = head.at("take-up", head.degrees + rng.uniform(30.0, 50.0))
        made = sewn_thread.threaded(said.family, head, rng)
        asked = asked_of(made, rng, guides=not said.no_guides)
        try:
            found = THREAD.work(Nothing(), asked, Steps())
        except IronlaceError as error:
            refused += 1
            print("refused:", error)
            continue
        if not found.with_loop:
            print("no loop:", found.without_loop)
        told = THREAD.answer(found).figures
        row = []
        total = made.stitch + 2 * made.balance * made.thick
        for key, true in (("slack_mm", made.slack.max()), ("left_at_top_mm", made.top)):
            low, value, high = told[key]
            row += [value - true, low - 1e-6 <= true <= high + 1e-6]
        row += [made.drawn.sum() - total, found.plain.closure[0]]
        rows.append(row)
        print(
            np.round(row, 2),
            "snatch",
            told["snatched_mm"],
            told["slackest_deg"],
            round(float(made.degrees[made.slack.argmax()]), 1),
        )
    e = np.array(rows, dtype=float)
    print(
        f"{said.family}: {len(rows)} told, {refused} refused; most slack rms "
        f"{np.sqrt((e[:, 0] ** 2).mean()):.2f} mm, held {e[:, 1].mean():.2f}; left at the top rms "
        f"{np.sqrt((e[:, 2] ** 2).mean()):.2f}, held {e[:, 3].mean():.2f}; a turn draws what it "
        f"uses to {np.abs(e[:, 4]).max():.1e} mm in truth, {np.abs(e[:, 5]).max():.1e} in the "
        "reckoning"
    )


if __name__ == "__main__":
    main()
