"""Make the whole package of a machine with many large photographs, beside its checksums alone.

    python bench/bag_of_workshop.py --photographs 100 --megapixels 8

Unlike `bag_of_many.py`, which closes and checks a bag, this makes everything that goes in: viewing
copies, dossier, site. Processor seconds, children's too, are told stage by stage and compared with
those of `sha256sum` and `sha512sum` over the same originals in the same run; memory is the most
that was held. The bag is then verified. It takes some four times the room of the photographs.
"""

import argparse
import io
import resource
import subprocess
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np
from PIL import Image

from ironlace.dossier.bag.checking import check_bag
from ironlace.record import PhotographRole
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.bagging import make_bag
from ironlace.workshop.hand_over.packing import PICTURE_PX


def seconds(*who: int) -> float:
    """Processor seconds so far."""
    used = [resource.getrusage(one) for one in who]
    return sum(one.ru_utime + one.ru_stime for one in used)


def ours() -> float:
    """Those of this process and its children."""
    return seconds(resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)


def a_photograph(rng: np.random.Generator, megapixels: float) -> bytes:
    """A JPEG of noise over soft light, some 0.6 MB a megapixel."""
    height = round((megapixels * 1e6 * 2 / 3) ** 0.5)
    width = round(height * 1.5)
    noise = rng.integers(0, 50, (height, width, 3), dtype=np.uint8)
    light = np.linspace(15, 200, width).astype(np.uint8)[None, :, None]
    out = io.BytesIO()
    Image.fromarray(noise + light).save(out, "JPEG", quality=92)
    return out.getvalue()


def main() -> None:
    """Make the workshop, measure, tell."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photographs", type=int, default=40)
    parser.add_argument("--megapixels", type=float, default=8)
    parser.add_argument(
        "--seen-before", action="store_true", help="viewing copies are there, as pages make them"
    )
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    picture = a_photograph(np.random.default_rng(asked.seed), asked.megapixels)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        with Workshop.create(folder / "workshop") as workshop:
            slug = workshop.records.create("Plover head no. 2")
            for n in range(asked.photographs):
                file = folder / "one.jpg"
                # a comment of its own makes each another file
                comment = b"\xff\xfe\0\x06" + n.to_bytes(4, "big")
                file.write_bytes(picture[:2] + comment + picture[2:])
                taken = workshop.photographs.take_in_file(
                    slug, file, PhotographRole.PART, f"no. {n}"
                )
                if asked.seen_before:
                    workshop.photographs.view(taken.sha256, PICTURE_PX)
            originals = [p for p in (folder / "workshop" / "originals").rglob("*") if p.is_file()]
            start = seconds(resource.RUSAGE_CHILDREN)
            for program in ("sha256sum", "sha512sum"):
                words = [program, *map(str, originals)]
                subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
            alone = seconds(resource.RUSAGE_CHILDREN) - start
            stages: dict[str, float] = defaultdict(float)
            last = [ours(), "beginning"]

            def told(stage: str, _done: float) -> None:
                now = ours()
                stages[str(last[1])] += now - float(last[0])
                last[:] = [now, stage]

            start = ours()
            make_bag(workshop, slug, folder / "bag", private=True, progress=told)
            whole = ours() - start
        faults = check_bag(folder / "bag").faults
        assert not faults, faults
        size = sum(p.stat().st_size for p in originals)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    for stage, used in sorted(stages.items(), key=lambda pair: -pair[1]):
        print(f"  {used:7.2f} s  {stage}")
    print(
        f"{len(originals)} originals, {size / 1e9:.2f} GB: checksums alone {alone:.1f} s, the "
        f"whole package {whole:.1f} s ({whole / alone:.1f}), {memory:.0f} MB"
    )


if __name__ == "__main__":
    main()
