"""Plots as SVG text, each with the same said in words.

On screen a plot takes the colour of the text about it (`currentColor`) and two accents that hold
on light and dark paper, a ledger's red and gilt; in print it is black with the same accents.
Nothing rests on colour alone: shapes and line patterns carry it too, and each line has its name
written at its end instead of a legend. Letters are drawn as outlines, so that a plot looks the same
wherever it is opened; the words stand beside it.
"""

import io
import math
import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.survey.answers.next_report import NextReport, Power
from ironlace.survey.answers.odds_trace import OddsTrace
from ironlace.survey.errors import SurveyError
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.time.months import PER_YEAR, MonthDensity
from ironlace.survey.time.timeline import DatedNumber

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK = "#010203"
_WARM = "#9a3b2b"
_COOL = "#96690f"
_QUIET = "#857b69"
_SCREEN = {
    _INK: "currentColor",
    _WARM: f"var(--plot-warm, {_WARM})",
    _COOL: f"var(--plot-cool, {_COOL})",
    _QUIET: f"var(--plot-quiet, {_QUIET})",
}
_PRINT = {_INK: "#000000"}
_SMALL_PT = 8.0
"""Size of figures at the axes and of names at the lines."""

_TEXT_PT = 9.0
"""Size of what an axis is of."""

_LINE_MM = 3.7
"""Height of a line of small text with its leading."""

_HAIR_PT = 0.5
"""Weight of an axis: as thin as paper and screen both show it."""

_LABEL_LETTERS = 24
"""A name at the end of its line is broken after so many."""

_set_in: dict[str, Sequence[str]] = {}
"""Family that the plots are set in, and its files: told by whoever may read files."""


def set_plots_in(family: str, font_files: Sequence[str]) -> None:
    """Say what plots are set in, before the first is drawn; otherwise a serif that comes with it.

    Parameters
    ----------
    family
        As the files name it.
    font_files
        Where they lie.
    """
    _set_in.clear()
    _set_in[family] = tuple(font_files)


def _family() -> list[str]:
    """The families to set in, the first that has a sign gives it."""
    from matplotlib import font_manager

    for family, font_files in _set_in.items():
        if family not in font_manager.get_font_names():
            for file in font_files:
                font_manager.fontManager.addfont(file)
    return [*_set_in, "DejaVu Serif", "DejaVu Sans"]


def _figure(width_mm: float, height_mm: float) -> "tuple[Figure, Axes]":
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_mm / 25.4, height_mm / 25.4), layout="constrained")
    figure.patch.set_alpha(0.0)
    axes = figure.add_subplot()
    axes.patch.set_alpha(0.0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("bottom", "left"):
        axes.spines[side].set_color(_INK)
        axes.spines[side].set_linewidth(_HAIR_PT)
    axes.tick_params(
        colors=_INK, labelsize=_SMALL_PT, width=_HAIR_PT, length=2.5, labelfontfamily=_family()
    )
    for axis in (axes.xaxis, axes.yaxis):
        axis.label.set_color(_INK)
        axis.label.set_fontsize(_TEXT_PT)
    return figure, axes


def _name_at_end(
    axes: "Axes", ends: Sequence[tuple[float, float, str, str]], height_mm: float
) -> None:
    """Write each line's name beside its end, moved apart where the ends lie close.

    Parameters
    ----------
    ends
        For each line: x and y of its end, its name, its colour.
    height_mm
        Of the figure; the axes' own is somewhat less.
    """
    low, high = axes.get_ylim()
    per_mm = (high - low) / (0.8 * height_mm)
    right = axes.get_xlim()[1]
    wrapped = [textwrap.wrap(name, _LABEL_LETTERS)[:4] for _, _, name, _ in ends]
    tall = [(len(lines) * _LINE_MM + 0.8) * per_mm for lines in wrapped]
    order = sorted(range(len(ends)), key=lambda i: -ends[i][1])
    middles = _moved_apart([ends[i][1] for i in order], [tall[i] for i in order], low, high)
    for i, middle in zip(order, middles, strict=True):
        x, y, _, colour = ends[i]
        axes.annotate(
            "\n".join(wrapped[i]),
            (x, y),
            (right + (right - axes.get_xlim()[0]) * 0.035, middle),
            fontsize=_SMALL_PT,
            color=_INK,
            va="center",
            linespacing=1.1,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "relpos": (0.0, 0.5),
                "color": colour,
                "linewidth": _HAIR_PT,
                "shrinkA": 1.5,
                "shrinkB": 2.5,
            },
        )


def _moved_apart(
    wanted: Sequence[float], tall: Sequence[float], low: float, high: float
) -> list[float]:
    """Middles of labels as near to where they are wanted (falling) as none overlaps another.

    >>> _moved_apart([5.0, 4.9, 1.0], [1.0, 1.0, 1.0], 0.0, 6.0)
    [5.0, 4.0, 1.0]
    >>> _moved_apart([0.2, 0.1], [1.0, 1.0], 0.0, 6.0)
    [1.5, 0.5]
    """
    middles: list[float] = []
    ceiling = high
    for middle, height in zip(wanted, tall, strict=True):
        middles.append(min(middle, ceiling - height / 2))
        ceiling = middles[-1] - height / 2
    floor = low
    for at in range(len(middles) - 1, -1, -1):
        middles[at] = max(middles[at], floor + tall[at] / 2)
        floor = middles[at] + tall[at] / 2
    return middles


def _svg(figure: "Figure", title: str, sentences: Sequence[str], *, screen: bool) -> str:
    import matplotlib as mpl

    out = io.StringIO()
    from matplotlib.text import Text

    family = _family()
    for words in figure.findobj(Text):
        words.set_fontfamily(family)
    settings: Any = {"svg.fonttype": "path", "svg.hashsalt": title}
    with mpl.rc_context(settings):
        figure.savefig(out, format="svg", transparent=True, metadata={"Date": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    for colour, shown in (_SCREEN if screen else _PRINT).items():
        text = text.replace(colour, shown)
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    head = f"<title>{escape(title)}</title><desc>{escape(' '.join(sentences))}</desc>"
    return re.sub(r"<svg([^>]*)>", rf'<svg\1 role="img">{head}', text, count=1)


def numbers_against_dates(
    anchors: Sequence[DatedNumber],
    dated: Mapping[int, MonthDensity],
    *,
    highlight: int | None = None,
    screen: bool = True,
) -> Plot:
    """Running numbers against dates, with bands of 50 and 90 %.

    Parameters
    ----------
    anchors
        Numbers whose dates are known or bounded.
    dated
        Density of the date for each of some numbers; the band is drawn through them.
    highlight
        A number among `dated` to be marked.
    screen
        For a page (takes the page's colours) rather than for print.
    """
    if not dated:
        raise SurveyError("There is no dated example to draw.")
    figure, axes = _figure(150, 95)
    numbers = sorted(dated)
    edges = {share: [_years(dated[n], share) for n in numbers] for share in (0.9, 0.5)}
    for share, alpha in ((0.9, 0.22), (0.5, 0.38)):
        low = [e[0] for e in edges[share]]
        high = [e[1] for e in edges[share]]
        axes.fill_betweenx(numbers, low, high, color=_COOL, alpha=alpha, linewidth=0)
    middle = [dated[n].first_year + (dated[n].middle + 0.5) / PER_YEAR for n in numbers]
    axes.plot(middle, numbers, color=_COOL, linewidth=1.2)
    _dated_numbers(axes, anchors)
    if highlight is not None and highlight in dated:
        left, right = _years(dated[highlight], 0.9)
        axes.plot([left, right], [highlight, highlight], color=_WARM, linewidth=2.0)
        axes.annotate(
            f"{highlight:,}",
            (right, highlight),
            (5, 0),
            textcoords="offset points",
            va="center",
            fontsize=_TEXT_PT,
            color=_WARM,
        )
        axes.plot(left, highlight, "|", color=_WARM, markersize=10)
        axes.plot(right, highlight, "|", color=_WARM, markersize=10)
    axes.set_xlabel("year of making")
    axes.set_ylabel("running number")
    axes.set_ylim(bottom=0)
    _whole_years(axes)
    said, rows = _dates_in_words(anchors, dated, highlight)
    title = "Running numbers against dates"
    return Plot(title, _svg(figure, title, said, screen=screen), tuple(said), tuple(rows))


def _dated_numbers(axes: "Axes", anchors: Sequence[DatedNumber]) -> None:
    shapes = {
        DatedKind.AT: ("o", _INK, "made"),
        DatedKind.SOLD: ("D", "none", "sold"),
        DatedKind.NOT_BEFORE: (">", _INK, "not made before"),
        DatedKind.NOT_AFTER: ("<", _INK, "not made after"),
    }
    for kind, (shape, fill, label) in shapes.items():
        here = [a for a in anchors if a.kind is kind]
        if here:
            axes.plot(
                [_middle_year(a) for a in here],
                [a.number for a in here],
                shape,
                color=_INK,
                markerfacecolor=fill,
                markersize=5,
                linestyle="none",
            )
            # named once, at the first: the shape tells the others
            first = min(here, key=lambda a: a.number)
            axes.annotate(
                label,
                (_middle_year(first), first.number),
                (6, -3),
                textcoords="offset points",
                va="top",
                fontsize=_SMALL_PT,
                color=_INK,
            )


def _dates_in_words(
    anchors: Sequence[DatedNumber], dated: Mapping[int, MonthDensity], highlight: int | None
) -> tuple[list[str], list[tuple[str, ...]]]:
    said: list[str] = []
    rows: list[tuple[str, ...]] = [("number", "earliest (90 %)", "middle", "latest (90 %)")]
    numbers = sorted(dated)
    for n in numbers:
        d = dated[n]
        a, b = d.bounds(0.9)
        rows.append((str(n), d.label(a), d.label(d.middle), d.label(b)))
        if n == highlight or len(numbers) <= 6:
            said.append(f"Number {n}: made between {d.label(a)} and {d.label(b)} (90 %).")
    said.append(
        f"{len(anchors)} dated example{'' if len(anchors) == 1 else 's'} hold the line; the band "
        "widens away from them."
    )
    return said, rows


def _years(density: MonthDensity, share: float) -> tuple[float, float]:
    low, high = density.bounds(share)
    return density.first_year + low / PER_YEAR, density.first_year + (high + 1) / PER_YEAR


def _middle_year(anchor: DatedNumber) -> float:
    ends = [d for d in (anchor.date.earliest, anchor.date.latest) if d is not None]
    if anchor.kind is DatedKind.NOT_BEFORE:
        ends = ends[:1]
    elif anchor.kind is DatedKind.NOT_AFTER:
        ends = ends[-1:]
    return float(np.mean([d.year + (d.timetuple().tm_yday - 1) / 365.25 for d in ends]))


def _whole_years(axes: "Axes") -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:.0f}"))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda y, _: f"{y:,.0f}"))


def month_year_grid(
    found: Sequence[tuple[int, int]],
    *,
    highlight: tuple[int, int] | None = None,
    screen: bool = True,
) -> Plot:
    """Which months have turned up: a cell for each, with how many machines were found.

    Parameters
    ----------
    found
        Year and month of each report.
    highlight
        Year and month of the machine in hand.
    """
    if not found:
        raise SurveyError("No report states a year and a month, so there is no grid to draw.")
    years = range(min(y for y, _ in found), max(y for y, _ in found) + 1)
    counts = {(y, m): 0 for y in years for m in range(1, 13)}
    for place in found:
        counts[place] = counts.get(place, 0) + 1
    figure, axes = _figure(150, 22 + 8.5 * len(years))
    most = max(counts.values())
    for (year, month), count in counts.items():
        at = (month - 0.5, year - 0.5)
        if count:
            axes.add_patch(_square(at, _COOL, 0.15 + 0.35 * count / most))
            axes.text(
                month, year, str(count), ha="center", va="center", fontsize=_TEXT_PT, color=_INK
            )
        else:
            axes.plot(month, year, ".", color=_QUIET, markersize=2.5)
    if highlight is not None:
        frame = _square((highlight[1] - 0.5, highlight[0] - 0.5), "none", 1.0)
        frame.set_edgecolor(_WARM)
        frame.set_linewidth(2.0)
        axes.add_patch(frame)
    axes.set_xlim(0.4, 12.6)
    axes.set_ylim(max(years) + 0.6, min(years) - 0.6)
    axes.set_xticks(range(1, 13))
    axes.set_yticks(list(years))
    axes.set_xlabel("month")
    axes.set_ylabel("year")
    missing = sum(1 for count in counts.values() if not count)
    said = [
        f"{len(found)} reports from {len(counts) - missing} different months, "
        f"{min(years)} to {max(years)}; {missing} months have not turned up."
    ]
    absent = [m for m in range(1, 13) if not any(counts[y, m] for y in years)]
    if absent:
        said.append(f"Months never seen in any year: {', '.join(map(str, absent))}.")
    rows = [("year", *(str(m) for m in range(1, 13)))]
    rows += [(str(y), *(str(counts[y, m] or "") for m in range(1, 13))) for y in years]
    title = "Months and years found"
    return Plot(title, _svg(figure, title, said, screen=screen), tuple(said), tuple(rows))


def _square(at: tuple[float, float], colour: str, alpha: float) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle(
        (at[0] + 0.04, at[1] + 0.06), 0.92, 0.88, facecolor=colour, alpha=alpha, linewidth=0
    )


_PATTERNS = ("-", (0, (5, 1.5)), (0, (1.5, 1)), (0, (4, 1, 1, 1)), (0, (1, 2)))


_LEAST_ODDS = -4.2
"""Powers of ten: what is less likely is as good as sunk, and would press the rest together."""

_LEVELS = (
    (-4.0, "1 to 10,000"),
    (-2.0, "1 to 100"),
    (-math.log10(20.0), "1 to 20"),
    (0.0, "even"),
    (math.log10(20.0), "20 to 1"),
    (2.0, "100 to 1"),
    (4.0, "10,000 to 1"),
    (6.0, "1,000,000 to 1"),
)
"""Odds that stand beside the plot, as powers of ten."""

_REPORTS_NAMED = 16
"""So many reports have their names under the plot, and a dot each; more have room for neither."""

_LETTERS_ACROSS = 70
"""Letters of small text that stand side by side under the plot."""


def _broken(name: str) -> str:
    return textwrap.shorten(name, 14, placeholder="\u2026") or name[:14]


def odds_as_they_came(trace: OddsTrace, *, most: int = 4, screen: bool = True) -> Plot:
    """Odds of each leading scheme against all others, after each report."""
    probability = np.array(trace.probability)
    names = trace.called or trace.names
    shown = np.argsort(-probability.max(axis=0) - 1e-3 * probability[-1])[:most]
    shown = shown[np.argsort(-probability[-1][shown])]
    height = 88.0
    figure, axes = _figure(160, height)
    bounded = np.clip(probability, 1e-6, 1.0 - 1e-6)
    odds = np.log10(bounded / (1.0 - bounded))
    low, high = max(odds[:, shown].min(), _LEAST_ODDS) - 0.25, max(odds[:, shown].max(), 2.0) + 0.3
    axes.set_ylim(low, high)
    few = len(trace.counts) <= _REPORTS_NAMED
    ends = []
    for k, scheme in enumerate(shown):
        colour = (_WARM, _COOL, _QUIET, _INK)[k % 4]
        drawn = np.maximum(odds[:, scheme], low + 0.1)  # below it, it runs along the edge
        axes.plot(
            trace.counts,
            drawn,
            linestyle=_PATTERNS[k % len(_PATTERNS)],
            marker="o" if few else None,
            markersize=3.6 if k == 0 else 2.6,
            color=colour,
            linewidth=1.8 if k == 0 else 1.2,
            clip_on=False,
        )
        ends.append((float(trace.counts[-1]), float(drawn[-1]), names[scheme], colour))
    levels = [(at, words) for at, words in _LEVELS if low <= at <= high]
    for at, _ in levels:
        axes.axhline(at, color=_QUIET, linewidth=_HAIR_PT, linestyle=(0, (1, 3)), zorder=0)
    axes.set_yticks([at for at, _ in levels], [words for _, words in levels])
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.margins(x=0.02)
    _name_at_end(axes, ends, height)
    if few:
        axes.set_xticks(trace.counts, [_broken(name) for name in trace.ids])
        if max(len(_broken(name)) for name in trace.ids) * len(trace.ids) > _LETTERS_ACROSS:
            axes.tick_params(axis="x", labelrotation=60)
    axes.set_xlabel("reports, in the order in which they came" if few else "reports")
    said = [
        f"After {trace.counts[0]} report{'' if trace.counts[0] == 1 else 's'} "
        f"'{names[int(np.argmax(probability[0]))]}' led with {probability[0].max():.0%}; "
        f"after {trace.counts[-1]} '{names[0]}' leads with {probability[-1][0]:.1%}."
    ]
    jumps = np.abs(np.diff(odds[:, 0]))
    if len(jumps):
        said.append(f"The largest step came with report {trace.ids[int(np.argmax(jumps)) + 1]}.")
    rows = [("reports", *(names[s] for s in shown))]
    rows += [
        (str(n), *(f"{probability[i, s]:.4f}" for s in shown)) for i, n in enumerate(trace.counts)
    ]
    title = "Odds as reports came in"
    return Plot(title, _svg(figure, title, said, screen=screen), tuple(said), tuple(rows))


def power_curves(asked: NextReport, *, screen: bool = True) -> Plot:
    """Chance that odds are reached after so many further reports, were the leading scheme true."""
    if not asked.power:
        raise SurveyError("No odds were asked for, so there is no curve to draw.")
    height = 80.0
    figure, axes = _figure(160, height)
    axes.set_ylim(-0.02, 1.04)
    dashes: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1.5, 1.5)), (0, (6, 2, 1, 2)))
    ends = []
    for i, power in enumerate(asked.power):
        steps = np.arange(1, len(power.chance) + 1)
        colour = (_WARM, _COOL, _INK, _QUIET)[i % 4]
        axes.plot(
            steps,
            power.chance,
            linestyle=dashes[i % len(dashes)],
            color=colour,
            marker="os^D"[i % 4],
            markersize=3.5,
            linewidth=1.4,
            clip_on=False,
        )
        ends.append((float(steps[-1]), float(power.chance[-1]), f"{power.odds:,.0f} to 1", colour))
    axes.axhline(_FOUR_IN_FIVE, color=_QUIET, linewidth=_HAIR_PT, linestyle=(0, (1, 3)), zorder=0)
    axes.set_yticks(
        [0, 0.2, 0.4, 0.6, _FOUR_IN_FIVE, 1.0], ["0 %", "20 %", "40 %", "60 %", "4 in 5", "100 %"]
    )
    axes.set_xticks(np.arange(1, max(len(p.chance) for p in asked.power) + 1))
    axes.margins(x=0.02)
    axes.set_xlabel("further reports, as clear as those so far")
    axes.set_ylabel("chance of reaching the odds")
    _name_at_end(axes, ends, height)
    said = [_power_words(power, asked.called) for power in asked.power]
    rows = [("further reports", *(f"odds of {p.odds:,.0f} to 1" for p in asked.power))]
    rows += [
        (str(n + 1), *(f"{p.chance[n]:.0%}".replace("%", " %") for p in asked.power))
        for n in range(len(asked.power[0].chance))
    ]
    title = "How many more reports it takes"
    return Plot(title, _svg(figure, title, said, screen=screen), tuple(said), tuple(rows))


_FOUR_IN_FIVE = 0.8
"""The chance at which so many reports are called enough, as in `next_report.Power.needed`."""


def _power_words(power: Power, leading: str) -> str:
    odds = f"odds of {power.odds:,.0f} to 1"
    if power.needed == 0:
        return f"{odds.capitalize()} are reached already."
    one, last = power.chance[0], power.chance[-1]
    if power.needed is None:
        return (
            f"Were '{leading}' true, {len(power.chance)} further reports would bring {odds} in "
            f"{last:.0%} of cases."
        )
    return (
        f"Were '{leading}' true, one further report would bring {odds} in {one:.0%} of cases, and "
        f"{power.needed} in four of five."
    )
