"""What an account is made of: sections of a few kinds of block.

A block says what there is to read, never how it is set. Each kind is rendered once for the screen
(`templates/site/blocks.html`) and once for print (`templates/blocks.typ`), so that a new section
needs no template.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ironlace.dossier.print.ink_window import InkWindow
from ironlace.dossier.print.plain_drawing import PlainDrawing
from ironlace.evidence.grades import Grade


@dataclass(frozen=True, slots=True)
class PictureFile:
    """A viewing copy of a photograph, upright and in sRGB, and its size in pixels.

    `ready` are JPEG copies that are there already, by their longer edge in pixels; they hold the
    picture and nothing else, as they go out as they are.
    """

    path: Path
    width: int
    height: int
    ready: Mapping[int, Path] = field(default_factory=dict)


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
    the unit that was not read. `across` is how many columns it takes, `down` how many rows it
    tells of; one that is `again` says what the cell above it told of its row too.
    """

    words: str = ""
    below: tuple[str, ...] = ()
    grade: Grade | None = None
    look: str = ""
    across: int = 1
    down: int = 1
    again: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table. `name` is the entry it tells of; a `sum` closes the table.

    A `head` is one cell over the rows that follow it, up to the next.
    """

    cells: tuple[Cell, ...]
    name: str = ""
    sum: bool = False
    head: bool = False


@dataclass(frozen=True, slots=True)
class Tabular:
    """Rows under headings; `widths` are shares of the page's width.

    One of four columns that `folds` has its rows on two lines where a screen is narrow: the first
    two cells over the last two.
    """

    heads: tuple[str, ...]
    widths: tuple[int, ...]
    rows: tuple[Row, ...]
    figures: tuple[int, ...] = ()
    folds: bool = False


@dataclass(frozen=True, slots=True)
class Plates:
    """Photographs shown side by side in columns, each column under a word or none.

    `elsewhere` are those that the account shows at another place already, under the same words.
    """

    columns: tuple[tuple[str, tuple[str, ...]], ...]
    elsewhere: tuple[tuple[str, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class DrawingShown:
    """A drawing in mm. `drawing`, `bare` and `ink` are None when its file is not at hand.

    `bare` is what is shown: the drawing without its lines of evidence, which have a map of their
    own. `ground` is the flattened photograph that lies under the whole of the drawing, None when
    none is at hand or a photograph that it was traced from stays.
    """

    name: str
    title: str
    width_mm: float
    height_mm: float
    photographs: tuple[str, ...]
    grade: Grade
    drawing: PlainDrawing | None
    bare: PlainDrawing | None
    ink: InkWindow | None
    ground: PictureFile | None = None

    @property
    def size(self) -> str:
        """The size of what is drawn, in words."""
        return self.ink.size if self.ink else f"{self.width_mm:.1f} × {self.height_mm:.1f} mm"


@dataclass(frozen=True, slots=True)
class Share:
    """A share of a drawing's outline: its grade, what it was taken from, 0 to 1, length in mm."""

    grade: Grade
    words: str
    share: float
    length_mm: float

    @property
    def percent(self) -> str:
        """The share in words, never a bare nought."""
        percent = 100 * self.share
        return f"{percent:.1f}\u00a0%" if percent >= 0.1 else "less than 0.1\u00a0%"


@dataclass(frozen=True, slots=True)
class EvidenceMap:
    """The ornament with each stretch of its outline by its grade, in line pattern and colour.

    `drawing` and `ink` are of the map; `shares` add up to the whole outline.
    """

    name: str
    title: str
    drawing: PlainDrawing
    ink: InkWindow
    shares: tuple[Share, ...]

    @property
    def grades(self) -> tuple[Grade, ...]:
        """The grades that occur, strongest first."""
        return tuple(grade for grade in Grade if any(s.grade is grade for s in self.shares))

    @property
    def said(self) -> str:
        """The same in words."""
        return "; ".join(f"{s.percent} {s.grade.value}, {s.words}" for s in self.shares)


@dataclass(frozen=True, slots=True)
class SheetPicture:
    """A stencil sheet shown small: its picture as SVG, its size in mm, what to know of it."""

    title: str
    svg: str
    width_mm: float
    height_mm: float
    words: str


@dataclass(frozen=True, slots=True)
class SheetsShown:
    """The planned stencil sheets of a drawing, shown small."""

    name: str
    title: str
    sheets: tuple[SheetPicture, ...]


@dataclass(frozen=True, slots=True)
class FigureShown:
    """A plot: for print and for a page, in words and as a table (its first row the heads)."""

    title: str
    print_svg: str
    page_svg: str
    says: tuple[str, ...]
    table: tuple[tuple[str, ...], ...] = ()


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

    `lines` stand as they are; `references` are entries that it vouches for; `note` is the item at
    the end of the account that tells how it was worked out.
    """

    grade: Grade | None = None
    vouchers: tuple[Voucher, ...] = ()
    lines: tuple[str, ...] = ()
    references: References | None = None
    note: str = ""
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
    | EvidenceMap
    | SheetsShown
    | FigureShown
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
