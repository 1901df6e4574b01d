"""Make the demo's pictures again: `python demo/make.py [ornament] [mark] [bench] [head]`.

Without a name all are made. Each is written into the package's data, and the checksums that the
record gives for its photographs are brought up to date.
"""

from __future__ import annotations

import hashlib
import json
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
MATERIAL = HERE.parent / "src" / "ironlace" / "workshop" / "demo"
PICTURES = ("ornament", "mark", "bench", "head")


def stamp(folder: Path) -> int:
    """Write each photograph's SHA-256 into the record; return how many have changed."""
    path = folder / "machine.json"
    if not path.exists():
        return 0
    record = json.loads(path.read_text(encoding="utf-8"))
    changed = 0
    for item in record:
        if "file" in item and item["entry"]["kind"] == "photograph":
            digest = hashlib.sha256((folder / item["file"]).read_bytes()).hexdigest()
            changed += item["entry"]["sha256"] != digest
            item["entry"]["sha256"] = digest
    if changed:
        path.write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return changed


def main(names: list[str]) -> int:
    """Make the pictures named."""
    unknown = [n for n in names if n not in (*PICTURES, "checksums")]
    if unknown:
        print(f"There is no picture called {unknown[0]}: choose {', '.join(PICTURES)}.")
        return 2
    sys.path[:0] = [str(HERE), str(HERE.parent / "src")]
    for name in names or PICTURES:
        if name != "checksums":
            __import__(f"picture_{name}").write(MATERIAL)
    print(f"{stamp(MATERIAL)} checksums changed in the record.")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
