"""A bag is believed whole or not at all: each single fault is named."""

import hashlib
import unicodedata
from pathlib import Path

import bagit
import numpy as np
import pytest

from ironlace.dossier.bag.checking import check_bag, looks_like_a_bag
from ironlace.dossier.bag.writing import close_bag
from ironlace.dossier.errors import DossierError

SEED = 8493
FAULTS = 300
"""Each kind of fault comes up several times, on different files."""
ACCENTED = unicodedata.normalize("NFC", "data/originals/filigrée.svg")


def made(folder: Path) -> Path:
    """A small bag with a name that Unicode spells in two ways."""
    rng = np.random.default_rng(5)
    for path in ("record.json", "README.txt", "originals/a.jpg", "originals/b.jpg", "site/x.html"):
        place = folder / "data" / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(rng.bytes(200))
    (folder / ACCENTED).write_bytes(b"<svg/>")
    close_bag(folder, {"External-Identifier": "plover-head"})
    return folder


@pytest.fixture
def bag(tmp_path) -> Path:
    return made(tmp_path / "bag")


def sealed_again(bag: Path) -> None:
    """Bring the tag manifests in line with tag files that were tampered with, as a forger would."""
    tags = ("bag-info.txt", "bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt")
    for algorithm in ("sha256", "sha512"):
        lines = [
            f"{hashlib.new(algorithm, (bag / name).read_bytes()).hexdigest()}  {name}\n"
            for name in tags
        ]
        (bag / f"tagmanifest-{algorithm}.txt").write_text("".join(lines), encoding="utf-8")


def rewritten(bag: Path, old: str, new: str, *, only: str = "") -> None:
    """Change a word in both payload manifests, or in one, and seal the bag again."""
    for algorithm in ("sha256", "sha512"):
        place = bag / f"manifest-{algorithm}.txt"
        if only in ("", algorithm):
            text = place.read_text(encoding="utf-8")
            assert old in text
            place.write_text(text.replace(old, new), encoding="utf-8", newline="")
    sealed_again(bag)


def test_a_whole_bag_has_no_fault_and_tells_its_checksums(bag) -> None:
    checked = check_bag(bag)
    assert checked.faults == ()
    assert (checked.files, checked.bytes) == (6, 1006)
    record = (bag / "data" / "record.json").read_bytes()
    assert checked.sha256["data/record.json"] == hashlib.sha256(record).hexdigest()
    assert looks_like_a_bag(bag) and not looks_like_a_bag(bag / "data")


def test_the_library_of_congress_reads_it(bag) -> None:
    outside = bagit.Bag(str(bag))
    outside.validate()
    assert set(outside.algorithms) == {"sha256", "sha512"}
    (bag / "data" / "record.json").write_bytes(b"other")
    with pytest.raises(bagit.BagValidationError):
        outside.validate()


def _flip(bag, path, rng):
    content = bytearray((bag / path).read_bytes())
    at = int(rng.integers(len(content)))
    content[at] ^= 1 << int(rng.integers(8))
    (bag / path).write_bytes(bytes(content))
    return path


def _take(bag, path, _rng):
    (bag / path).unlink()
    return path


def _rename(bag, path, _rng):
    (bag / path).rename(bag / f"{path}.moved")
    return f"{path}.moved"


def _add(bag, path, rng):
    (bag / f"{path}-{int(rng.integers(99))}").write_bytes(b"new")
    return path


def _cut(bag, path, rng):
    content = (bag / path).read_bytes()
    (bag / path).write_bytes(content[: int(rng.integers(len(content)))])
    return path


def _link(bag, path, _rng):
    there = bag.parent / "outside"
    (bag / path).rename(there)
    (bag / path).symlink_to(there)
    return path


def _grow(bag, path, _rng):
    with (bag / path).open("ab") as file:
        file.write(b"\n")
    return path


def _duplicate(bag, path, _rng):
    place = bag / path
    place.write_bytes(place.read_bytes() + place.read_bytes().splitlines(keepends=True)[-1])
    return path


def every_single_fault():
    """Kind and file of each of the faults, drawn so that every kind and every file comes up."""
    rng = np.random.default_rng(SEED)
    payload = ["data/record.json", "data/README.txt", "data/originals/a.jpg", "data/site/x.html"]
    manifests = [f"{m}-{a}.txt" for m in ("manifest", "tagmanifest") for a in ("sha256", "sha512")]
    files = [*payload, *manifests, "bagit.txt", "bag-info.txt"]
    kinds = [_flip, _take, _rename, _add, _cut, _link, _grow, _duplicate]
    for n in range(FAULTS):
        kind = kinds[n % len(kinds)]
        among = manifests if kind is _duplicate else files
        yield kind, among[int(rng.integers(len(among)))], int(rng.integers(1 << 30))


def test_each_single_fault_is_named(tmp_path) -> None:
    for n, (kind, path, seed) in enumerate(every_single_fault()):
        bag = made(tmp_path / f"{n}" / "bag")
        touched = kind(bag, path, np.random.default_rng(seed))
        checked = check_bag(bag)
        case = (kind.__name__, path, checked.faults)
        assert checked.faults and not checked.sha256, case
        # a fault in a manifest may show in the file that it is about
        named = touched if "manifest" not in path else ""
        assert any(named in fault for fault in checked.faults), case


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("data/../../secret", "leads out of the bag"),
        ("/etc/hosts", "leads out of the bag"),
        ("~/secret", "leads out of the bag"),
        ("C:/secret", "leads out of the bag"),
        ("\\\\host\\secret", "leads out of the bag"),
        ("data/./site/x.html", "is no plain path"),
        ("data//site/x.html", "is no plain path"),
        ("data\\site\\x.html", "is no plain path"),
        ("data/site/x%0D%0A.html", "cannot be seen"),
        ("data/site/x%0a.html", "cannot be seen"),
        ("data/%2e%2e/x.html", "percent sign"),
        ("data/x\u202ehtml", "cannot be seen"),
        ("site/x.html", "does not lie in data/"),
    ],
)
def test_a_path_that_leads_elsewhere_is_named_and_never_followed(bag, path, says) -> None:
    rewritten(bag, "data/site/x.html", path)
    faults = check_bag(bag).faults
    assert any(says in fault for fault in faults), faults
    assert any("data/site/x.html was added" in fault for fault in faults)


@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_the_other_spelling_of_a_name_is_named_as_such(bag, form) -> None:
    other = unicodedata.normalize(form, ACCENTED)
    if form == "NFD":
        (bag / ACCENTED).rename(bag / other)
        assert any("another spelling" in fault for fault in check_bag(bag).faults)
    else:
        (bag / unicodedata.normalize("NFD", ACCENTED)).write_bytes(b"<svg/>")
        assert any("one name to some disks" in fault for fault in check_bag(bag).faults)


def test_lines_that_stand_twice_and_lists_that_differ_are_named(bag, tmp_path) -> None:
    line = (bag / "manifest-sha256.txt").read_text(encoding="utf-8").splitlines(keepends=True)[0]
    rewritten(bag, line, line + line, only="sha256")
    assert any("stands there twice" in fault for fault in check_bag(bag).faults)
    other = made(tmp_path / "other")
    line = (other / "manifest-sha512.txt").read_text(encoding="utf-8").splitlines(keepends=True)[0]
    rewritten(other, line, "", only="sha512")
    assert any("and not in manifest-sha512.txt" in fault for fault in check_bag(other).faults)


def test_a_checksum_that_one_manifest_alone_has_wrong_is_named(bag) -> None:
    checksum = (bag / "manifest-sha512.txt").read_text(encoding="utf-8")[:128]
    rewritten(bag, checksum, "0" * 128, only="sha512")
    (fault,) = check_bag(bag).faults
    assert "manifest-sha512.txt says" in fault


@pytest.mark.parametrize(
    "said", ["Payload-Oxum: 1006.5", "Payload-Oxum: 1005.6", "", "Payload-Oxum: many"]
)
def test_a_wrong_oxum_is_named(bag, said) -> None:
    info = bag / "bag-info.txt"
    text = info.read_text(encoding="utf-8").replace("Payload-Oxum: 1006.6", said)
    info.write_text(text, encoding="utf-8")
    sealed_again(bag)
    (fault,) = check_bag(bag).faults
    assert "Payload-Oxum" in fault


def test_an_empty_folder_and_files_from_elsewhere_are_named(bag) -> None:
    (bag / "data" / "more").mkdir()
    (bag / "fetch.txt").write_text("http://example.org/a 3 data/a\n", encoding="utf-8")
    faults = " ".join(check_bag(bag).faults)
    assert "data/more is an empty folder" in faults
    assert "nothing is fetched" in faults


def test_a_link_is_never_put_into_a_bag(tmp_path) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "a").symlink_to(tmp_path)
    with pytest.raises(DossierError, match="is a link"):
        close_bag(tmp_path, {})
