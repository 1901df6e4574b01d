"""What an account is made of: sections of a few kinds of block.

A block says what there is to read, never how it is set. Each kind is rendered once for the screen
(`templates/site/blocks.html`) and once for print (`templates/blocks.typ`), so that a new section
needs no template.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from ironlace.dossier.print.ink_window import InkWindow
from ironlace.dossier.print.plain_drawing import PlainDrawing
from ironlace.evidence.grades import Grade


@dataclass(frozen=True, slots=True)
class PictureFile:
    """A viewing copy of a photograph, upright and in sRGB, and its size in pixels."""

    path: Path
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Plate:
    """A photograph with all that is said of it. `picture` is None when no file is at hand."""

    name: str
    role: str
    caption: str
    date: str
    credit: str
    rights: str
    scale: str
    note: str
    picture: PictureFile | None

    @property
    def described(self) -> str:
        """What the picture shows, for someone who cannot see it."""
        what = self.caption or "no caption"
        return f"Photograph, {self.role}: {what}"

    @property
    def small_print(self) -> str:
        """Date, credit and rights in one line."""
        return " · ".join(
            part for part in (self.date, self.scale, self.credit, self.rights) if part
        )


@dataclass(frozen=True, slots=True)
class Voucher:
    """What vouches for a statement: words, and the entry they point to ('' if none)."""

    says: str
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading within a section, over the items that follow."""

    words: str


@dataclass(frozen=True, slots=True)
class Says:
    """What an entry says, set a little larger than what is said about it."""

    words: str
    large: bool = False


@dataclass(frozen=True, slots=True)
class Remark:
    """A smaller line; `strong` begins it, for what must not be missed."""

    words: str
    strong: str = ""


@dataclass(frozen=True, slots=True)
class Matter:
    """Plain text: an empty line parts paragraphs, a line end stays one. `label` runs in before."""

    text: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Struck:
    """Something read and given up: struck through, with what is said of it beside."""

    reads: str
    words: str


@dataclass(frozen=True, slots=True)
class SetOff:
    """A strong sentence and what belongs to it, set off by a rule."""

    strong: str
    text: str


@dataclass(frozen=True, slots=True)
class Pairs:
    """Labels and their values."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class References:
    """Entries that are referred to, after a word such as `See`."""

    word: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GlyphCell:
    """One glyph of a mark: the signs it may be, a word under it, whether it is doubtful."""

    signs: tuple[str, ...]
    under: str
    doubtful: bool
    gap: bool


@dataclass(frozen=True, slots=True)
class MarkRow:
    """A mark, glyph by glyph, and how it is read aloud."""

    glyphs: tuple[GlyphCell, ...]
    spoken: str
    written: str


@dataclass(frozen=True, slots=True)
class YearSpan:
    """An interval on a scale of whole years; ends are shares of the scale, None if open."""

    first_year: int
    last_year: int
    low: float | None
    high: float | None
    grade: Grade
    words: str


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a table: its words, lesser lines under them, a grade.

    `look` is ``"reads"`` for a mark, ``"figure"`` for a number, ``"converted"`` for a number in
    the unit that was not read. `across` is how many columns it takes.
    """

    words: str = ""
    below: tuple[str, ...] = ()
    grade: Grade | None = None
    look: str = ""
    across: int = 1


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table. `name` is the entry it tells of; a `sum` closes the table."""

    cells: tuple[Cell, ...]
    name: str = ""
    sum: bool = False


@dataclass(frozen=True, slots=True)
class Tabular:
    """Rows under headings; `widths` are shares of the page's width."""

    heads: tuple[str, ...]
    widths: tuple[int, ...]
    rows: tuple[Row, ...]
    figures: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Plates:
    """Photographs shown side by side in columns, each column under a word or none."""

    columns: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class DrawingShown:
    """A drawing in mm. `drawing` and `ink` are None when its file is not at hand."""

    name: str
    title: str
    width_mm: float
    height_mm: float
    photographs: tuple[str, ...]
    grade: Grade
    drawing: PlainDrawing | None
    ink: InkWindow | None

    @property
    def size(self) -> str:
        """The size of what is drawn, in words."""
        return self.ink.size if self.ink else f"{self.width_mm:.1f} × {self.height_mm:.1f} mm"


@dataclass(frozen=True, slots=True)
class Album:
    """The photographs of the account that it does not show elsewhere, or the way to them."""


@dataclass(frozen=True, slots=True)
class Cautions:
    """Cautions that belong to what stands above: hazard, what to say of it, what that rests on."""

    cautions: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Margin:
    """What stands beside an entry: how it is known and what vouches for it.

    `lines` stand as they are; `references` are entries that it vouches for; `inputs` are names
    with checksums of what a finding was computed from.
    """

    grade: Grade | None = None
    vouchers: tuple[Voucher, ...] = ()
    lines: tuple[str, ...] = ()
    references: References | None = None
    inputs: tuple[tuple[str, str], ...] = ()
    small_print: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One entry: its blocks, its evidence in the margin, and blocks across both below.

    `lighter` follows the heading in a lighter hand.
    """

    name: str
    blocks: tuple["Block", ...]
    margin: Margin
    heading: str = ""
    lighter: str = ""
    below: tuple["Block", ...] = ()


@dataclass(frozen=True, slots=True)
class Rivals:
    """Items that cannot all be true, side by side."""

    items: tuple[Item, ...]


Block = (
    Heading
    | Says
    | Remark
    | Matter
    | Struck
    | SetOff
    | Pairs
    | References
    | MarkRow
    | YearSpan
    | Tabular
    | Plates
    | DrawingShown
    | Album
    | Cautions
    | Item
    | Rivals
)


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the account: key (its anchor), title, opening sentences, blocks."""

    key: str
    title: str
    blocks: tuple[Block, ...]
    opening: str = ""


def all_blocks(blocks: Iterable[Block]) -> Iterator[Block]:
    """The blocks and, after each, those within it."""
    for block in blocks:
        yield block
        if isinstance(block, Item):
            yield from all_blocks((*block.blocks, *block.below))
        elif isinstance(block, Rivals):
            yield from all_blocks(block.items)
