"""How much the settings of the sum over unknowns matter, in evidence and in time.

    python bench/survey_settings.py [10 60 1000]

Each setting of `likelihood/summed_unknowns.py` is moved down and up; shown are the largest change
of a theory's log evidence on drawn reports (in nats; the comparison wants 0.1) and of the time.
"""

import argparse
import os
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from survey_speed import drawn

from ironlace.survey.answers.comparison import compare
from ironlace.survey.likelihood import summed_unknowns
from ironlace.survey.schemes.library import candidates_for

MOVED = {
    "_FINE": (22, 88),
    "_NODES_MANY": (12, 48),
    "_MOST_NODES": (270, 1080),
    "_LOOKS": ((), (400,)),
    "_FULL_GRIDS_UP_TO": (0, 10_000),
    "_SWEEPS": (1, 6),
    "_MOST_PASSES": (12, 36),
    "_PASSES_ON_A_SAMPLE": (1, 6),
    "_ELEMENTS_AT_ONCE": (500_000, 8_000_000),
    "_CELL_WORK": (10_000, 160_000),
    "_MOST_CELLS": (1_500, 24_000),
    "_KEEP_LOG": (20.0, 90.0),
    "_NEGLIGIBLE": (1e-5, 1e-9),
    "_NO_PART": (1e-5, 1e-11),
    "_TAIL": (1e-4, 1e-7),
    "_FEW_REPORTS": (2, 32),
}


def compared(reports, candidates):
    """Log evidence of each theory, and seconds of processor time."""
    start = time.process_time()
    found = compare(reports, candidates)
    taken = time.process_time() - start
    return {result.name: result.log_evidence for result in found.results}, taken


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("counts", nargs="*", type=int, default=[10, 60, 1000])
    surveys = {}
    for count in parser.parse_args().counts:
        reports = drawn(count, np.random.default_rng(count))
        surveys[count] = (reports, candidates_for([r.mark for r in reports[:500]])[:10])
    for survey in surveys.values():
        compared(*survey)  # lays down tables that later runs share
    usual = {count: compared(*survey) for count, survey in surveys.items()}
    for name, values in MOVED.items():
        was = getattr(summed_unknowns, name)
        for value in values:
            setattr(summed_unknowns, name, value)
            told = []
            for count, survey in surveys.items():
                evidence, taken = compared(*survey)
                before, seconds = usual[count]
                off = max(abs(evidence[n] - before[n]) for n in evidence)
                told.append(f"{count} reports {off:.4f} nats, time x {taken / seconds:.2f}")
            print(f"{name} {was} -> {value}: {'; '.join(told)}", flush=True)
        setattr(summed_unknowns, name, was)


if __name__ == "__main__":
    main()
