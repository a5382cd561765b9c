"""The same pages made in other ways, to measure against.

Enters: patient pages. Leaves: PDF bytes. The floor puts what a sheet's canvas was told on a fresh
canvas: the same strings and paths, without deciding anything. The peers are a library that turns
HTML with an SVG chart into PDF, and matplotlib's own file of many pages; both print the same words
and the same marks, each where its own layout puts them.
"""

import html
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any
from unittest.mock import patch

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from reportlab.lib.pagesizes import LETTER
from reportlab.pdfgen.canvas import Canvas

from handoff.chart import draw_volume
from handoff.page import Drawing, PatientPage, VolumeChart
from handoff.paper import draw_patient
from handoff.paper.canvas import open_canvas
from handoff.paper.typeface import REGULAR, face_of

Call = tuple[str, tuple[Any, ...], dict[str, Any], "Told | None"]
MAKES = {"beginText", "beginPath"}  # what a canvas is told to begin, is told more itself


@dataclass(slots=True)
class Told:
    """Everything that a canvas was told, and what it told its texts and paths."""

    told: Any
    calls: list[Call] = field(default_factory=list)

    def __getattr__(self, name: str) -> Callable[..., Any]:
        def tell(*given: Any, **named: Any) -> Any:
            result = getattr(self.told, name)(
                *(each.told if isinstance(each, Told) else each for each in given), **named
            )
            made = Told(result) if name in MAKES else None
            self.calls.append((name, given, named, made))
            return made or result

        return tell

    def retell(self, other: Any, made: dict[int, Any]) -> None:
        """Tell another canvas the same."""
        for name, given, named, begun in self.calls:
            result = getattr(other, name)(
                *(made[id(each)] if isinstance(each, Told) else each for each in given), **named
            )
            if begun:
                begun.retell(result, made)
                made[id(begun)] = result


def told(page: PatientPage) -> Told:
    """What the canvas of this sheet is told."""
    recorded: list[Told] = []

    def watched(*given: Any) -> tuple[Told, BytesIO]:
        canvas, stream = open_canvas(*given)
        recorded.append(Told(canvas))
        return recorded[0], stream

    with patch("handoff.paper.patient.open_canvas", watched):
        draw_patient(page, LETTER, draw_volume, "sheet")
    return recorded[0]


def floor(sheets: Sequence[Told]) -> list[bytes]:
    """The same strings and paths on a canvas of ReportLab, a file a sheet."""
    made = []
    for each in sheets:
        stream = BytesIO()
        canvas = Canvas(stream, pagesize=LETTER, invariant=1, initialFontName=REGULAR)
        each.retell(canvas, {})
        made.append(stream.getvalue())
    return made


def strings(page: PatientPage) -> Iterator[str]:
    """All words of a page but the chart's."""

    def walk(value: Any) -> Iterator[str]:
        if isinstance(value, str):
            yield value
        elif isinstance(value, (tuple, list)):
            for each in value:
                yield from walk(each)
        elif hasattr(value, "__dataclass_fields__") and not isinstance(value, VolumeChart):
            for name in value.__dataclass_fields__:
                yield from walk(getattr(value, name))

    return (text for text in walk(page) if text)


def html_to_pdf(pages: Sequence[PatientPage]) -> list[bytes]:
    """A library that turns HTML into PDF, the chart as SVG."""
    import weasyprint  # noqa: PLC0415 - a peer of the benchmark only

    style = f"@font-face {{ font-family: S; src: url('file://{face_of(REGULAR).filename}') }}"
    style += (
        "body { font: 9pt S; margin: 0 } @page { size: letter; margin: 12mm } p { margin: 2pt }"
    )
    made = []
    for page in pages:
        words = "".join(f"<p>{html.escape(each)}</p>" for each in strings(page))
        chart = svg(draw_volume(page.chart, 540, 160))
        document = f"<html><style>{style}</style><body>{chart}{words}</body></html>"
        made.append(weasyprint.HTML(string=document).write_pdf())
    return made


def svg(drawing: Drawing) -> str:
    """A drawing as SVG, whose y axis runs down."""
    paths = []
    for path in drawing.paths:
        steps = (
            name + " ".join(f"{each:.2f}" for each in numbers) for name, *numbers in path.commands
        )
        stroke, fill = _colour(path.stroke), _colour(path.fill)
        dash = " ".join(str(each) for each in path.dash)
        look = (
            f'stroke="{stroke}" fill="{fill}" stroke-width="{path.width}" stroke-dasharray="{dash}"'
        )
        paths.append(f'<path d="{" ".join(steps)}" {look}/>')
    texts = "".join(
        f'<text x="{text.x:.1f}" y="{drawing.height - text.y:.1f}" font-size="{text.size}">'
        f"{html.escape(text.text)}</text>"
        for text in drawing.texts
    )
    size = f'width="{drawing.width}" height="{drawing.height}"'
    up = f'transform="matrix(1 0 0 -1 0 {drawing.height})"'
    return f"<svg {size}><g {up}>{''.join(paths)}</g>{texts}</svg>"


def _colour(rgb: tuple[float, float, float] | None) -> str:
    return "none" if rgb is None else "rgb({}, {}, {})".format(*(round(255 * each) for each in rgb))


def matplotlib_pages(pages: Sequence[PatientPage]) -> bytes:
    """matplotlib's own PDF of many pages: a figure a page, the words as its texts."""
    stream = BytesIO()
    font = FontProperties(fname=face_of(REGULAR).filename, size=9)
    with PdfPages(stream) as file:
        for page in pages:
            figure = Figure(figsize=(LETTER[0] / 72, LETTER[1] / 72))
            _plot(figure, page.chart)
            for number, words in enumerate(strings(page)):
                figure.text(0.05, 0.97 - 0.009 * number, words, font=font, parse_math=False)
            file.savefig(figure)
    return stream.getvalue()


def _plot(figure: Figure, chart: VolumeChart) -> None:
    axes = figure.add_axes((0.1, 0.4, 0.7, 0.2))
    for start, end in chart.nights:
        axes.axvspan(start, end, color="0.9")
    for level in chart.levels:
        axes.axhline(level.volume_ml, color="0.2", linestyle="--")
        axes.text(chart.x_high_h, level.volume_ml, level.label)
    if chart.block_bests:
        axes.plot(*zip(*chart.block_bests, strict=True), color="0.2")
    for reading in {reading.mark for reading in chart.readings}:
        marked = [each for each in chart.readings if each.mark is reading]
        x, y = [each.x_h for each in marked], [each.volume_ml for each in marked]
        axes.plot(x, y, "ko", markersize=3.8)
    labelled = [tick for tick in chart.ticks if tick.label]
    axes.set_xticks([tick.x_h for tick in labelled], [str(tick.label) for tick in labelled])
    axes.set_yticks(list(chart.steps_ml))
    axes.set_ylim(0, chart.top_ml)
