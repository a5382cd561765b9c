"""The same pages made in other ways, to measure against.

Input: patient pages. Output: PDF bytes. The floor repeats the calls of a sheet's canvas on a fresh
canvas: the same strings and paths, without deciding anything. The peers are a library that turns
HTML with an SVG chart into PDF, and matplotlib's own file of many pages; both print the same words
and the same marks, each where its own layout puts them.
"""

import html
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from reportlab.lib.pagesizes import LETTER
from reportlab.pdfgen.canvas import Canvas as PlainCanvas

from handoff.draw.chart import draw_volume
from handoff.draw.paper import draw_patient
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.typeface import BOLD, REGULAR, face_of
from handoff.model.figure import Drawing, VolumeChart
from handoff.model.pages import Fact, Paragraph, PatientPage
from tests.support.sheets import TYPESETTER, document

Call = tuple[str, tuple[Any, ...], dict[str, Any], "Recorded | None"]
MAKES = {"beginText", "beginPath"}  # whose calls are recorded too


@dataclass(slots=True)
class Recorded:
    """A canvas, or a text or path of it, with all calls that were made of it."""

    canvas: Any
    calls: list[Call] = field(default_factory=list)

    def __getattr__(self, name: str) -> Any:
        value = getattr(self.canvas, name)
        if not callable(value):
            return value
        if isinstance(self.canvas, Canvas) and not hasattr(PlainCanvas, name):
            # The page's own way to say it, which calls the canvas more; or a tag, which is no mark.
            return partial(vars(Canvas)[name], self) if name in vars(Canvas) else value

        def call(*given: Any, **named: Any) -> Any:
            result = value(
                *(each.canvas if isinstance(each, Recorded) else each for each in given), **named
            )
            made = Recorded(result) if name in MAKES else None
            self.calls.append((name, given, named, made))
            return made or result

        return call

    def repeat(self, other: Any, made: dict[int, Any]) -> None:
        """Make the same calls of another canvas."""
        for name, given, named, begun in self.calls:
            result = getattr(other, name)(
                *(made[id(each)] if isinstance(each, Recorded) else each for each in given), **named
            )
            if begun:
                begun.repeat(result, made)
                made[id(begun)] = result


def record(page: PatientPage) -> Recorded:
    """The canvas of this sheet with all calls of it."""
    recorded: list[Recorded] = []

    def watched(*given: Any) -> Recorded:
        recorded.append(Recorded(Canvas(*given)))
        return recorded[0]

    with patch("handoff.draw.paper.patient.Canvas", watched):
        draw_patient(page, document(), draw_volume)
    return recorded[0]


def floor(sheets: Sequence[Recorded]) -> list[bytes]:
    """The same strings and paths on a canvas of ReportLab, a file a sheet."""
    made = []
    for each in sheets:
        stream = BytesIO()
        first: Any = REGULAR  # the stubs take a font's name for a number
        canvas: Any = PlainCanvas(stream, pagesize=LETTER, invariant=1, initialFontName=first)
        canvas._doc.fonts = TYPESETTER.fonts  # of whom fonts ask
        each.repeat(canvas, {})
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
        elif hasattr(value, "__struct_fields__") and not isinstance(value, VolumeChart):
            for name in value.__struct_fields__:
                yield from walk(getattr(value, name))

    return (text for text in walk(page) if text)


SVG = '<svg xmlns="http://www.w3.org/2000/svg"'
STYLE = """
@font-face {{ font-family: Text; src: url('file://{regular}') }}
@font-face {{ font-family: Text; font-weight: bold; src: url('file://{bold}') }}
@page {{ size: letter; margin: 12mm }}
body {{ font: 9pt/1.2 Text; margin: 0 }} p {{ margin: 0 }} h2 {{ font-size: 9pt; margin: 4pt 0 }}
table {{ border-collapse: collapse; width: 100% }} td {{ vertical-align: top }}
.bed {{ font-size: 34pt; font-weight: bold }} .name {{ font-size: 14pt; font-weight: bold }}
.level {{ border: 1pt solid black; text-align: center; font-weight: bold }}
.strip td {{ border: 0.5pt solid black; text-align: center }}
"""


def html_to_pdf(pages: Sequence[PatientPage]) -> list[bytes]:
    """A library that turns HTML into PDF: the parts of a sheet in tables, the chart as SVG."""
    import weasyprint  # noqa: PLC0415 - a peer of the benchmark only

    style = STYLE.format(regular=face_of(REGULAR).filename, bold=face_of(BOLD).filename)
    return [
        weasyprint.HTML(string=f"<style>{style}</style>{_html(page)}").write_pdf() for page in pages
    ]


def _html(page: PatientPage) -> str:
    who, text = page.identity, html.escape
    head = (
        f"<td class=bed>{text(who.bed)}<td><p class=name>{text(who.name)}<p>{text(who.id)}"
        f"<p>{text(page.unit)}<p>{text(page.shift)}<td><p class=level>{text(page.priority_words)}"
        f"<p>{text(page.as_of)}<p>{text(page.sheet)}"
    )
    cautions = [
        (
            f"<p class=level>{text(each.level_words)}",
            f"<b>{text(each.title)}</b> {text(each.seen)} {text(each.action)}"
            + "".join(f"<p>{text(line)}" for line in each.told or ()),
        )
        for each in page.cautions
    ]
    strip = "".join(
        f"<td>{text(cell.done)}<p>{text(cell.due)}<p>{text(cell.start)}" for cell in page.strip
    )
    ticks = "".join(f"<p>\N{BALLOT BOX} {text(each)}" for each in page.next_shift)
    notes = "".join(f"<p><b>{text(note.at)}</b> {text(note.text)}" for note in page.notes)
    return (
        f"<table><tr>{head}</table><hr>{_facts(page.paragraphs)}"
        f"<h2>{text(page.headings.cautions)}</h2>{_rows(cautions)}"
        f"<h2>{text(page.chart_title)}</h2>{svg(draw_volume(page.chart, 540, 160))}"
        f"<h2>{text(page.strip_title)}</h2><table class=strip><tr>{strip}</table>"
        f"<table><tr><td>{_facts(page.numbers)}<td>{_facts(page.set_up)}<td>{ticks}</table>"
        f"{notes}<hr>{''.join(f'<p>{text(each)}' for each in page.standing)}"
    )


def _facts(facts: Sequence[Fact | Paragraph]) -> str:
    return _rows([(f"<b>{html.escape(each.label)}</b>", html.escape(each.value)) for each in facts])


def _rows(rows: Sequence[tuple[str, str]]) -> str:
    return f"<table>{''.join(f'<tr><td>{left}<td>{right}' for left, right in rows)}</table>"


def svg(drawing: Drawing) -> str:
    """A drawing as SVG, whose y axis runs down."""
    paths = []
    for path in drawing.paths:
        steps = (
            name + " ".join(f"{each:.2f}" for each in numbers) for name, *numbers in path.steps
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


TYPST = """
#set page(paper: "us-letter", margin: 12mm)
#set text(font: "Source Sans Pro", size: 9pt, fallback: true)
#set par(leading: 0.4em, spacing: 0.5em)
#set table(stroke: none, inset: 2pt)
#show heading: set text(size: 9pt)
#let facts(rows) = table(columns: (84pt, 1fr),
  ..rows.map(((label, value)) => (strong(label), value)).flatten())
#let page-of(it) = {
  grid(columns: (84pt, 1fr, 110pt),
    text(size: 34pt, weight: "bold", it.bed),
    [#heading(level: 1, text(size: 14pt, it.name)) #it.id \\ #it.unit \\ #it.shift],
    [#box(stroke: 1pt, inset: 3pt, strong(it.priority)) \\ #it.as_of \\ #it.sheet])
  line(length: 100%)
  facts(it.paragraphs)
  heading(level: 2, it.cautions_title)
  table(columns: (84pt, 1fr), ..it.cautions.map(each => (
    box(stroke: 1pt, inset: 2pt, strong(each.level)),
    [#strong(each.title) #each.seen #each.action #for told in each.told [\\ #told]])).flatten())
  heading(level: 2, it.chart_title)
  image(bytes(it.chart), format: "svg", width: 540pt, alt: it.chart_title)
  heading(level: 2, it.strip_title)
  table(columns: it.strip.len(), stroke: 0.5pt, align: center,
    ..it.strip.map(cell => [#cell.at(0) \\ #cell.at(1) \\ #cell.at(2)]))
  grid(columns: 3, facts(it.numbers), facts(it.set_up), list(marker: sym.ballot, ..it.next_shift))
  for note in it.notes [#strong(note.at(0)) #note.at(1) \\ ]
  line(length: 100%)
  for each in it.standing [#each \\ ]
}
#for it in json(bytes(sys.inputs.pages)) { page-of(it); pagebreak(weak: true) }
"""


def typst_pages(pages: Sequence[PatientPage]) -> bytes:
    """A typesetter in Rust: the parts of a sheet in tables, the chart as SVG, with tags. One file
    of all pages, since its start takes longer than a page.
    """
    import typst  # noqa: PLC0415 - a peer of the benchmark only

    fonts = [str(Path(face_of(REGULAR).filename).parent)]
    with TemporaryDirectory() as folder:
        source = Path(folder) / "page.typ"
        source.write_text(TYPST, encoding="utf-8")
        given = {"pages": json.dumps([_parts(page) for page in pages])}
        compiled: bytes = typst.compile(
            str(source), font_paths=fonts, ignore_system_fonts=True, sys_inputs=given
        )
    return compiled


def _parts(page: PatientPage) -> dict[str, object]:
    who = page.identity

    def facts(given: Sequence[Fact | Paragraph]) -> list[tuple[str, str]]:
        return [(each.label, each.value) for each in given]

    return {
        "bed": who.bed,
        "name": who.name,
        "id": who.id,
        "unit": page.unit,
        "shift": page.shift,
        "priority": page.priority_words,
        "as_of": page.as_of,
        "sheet": page.sheet,
        "paragraphs": facts(page.paragraphs),
        "cautions_title": page.headings.cautions,
        "cautions": [
            {
                "level": each.level_words,
                "title": each.title,
                "seen": each.seen,
                "action": each.action,
                "told": [*(each.told or ())],
            }
            for each in page.cautions
        ],
        "chart_title": page.chart_title,
        "chart": f"{SVG}{svg(draw_volume(page.chart, 540, 160)).removeprefix('<svg')}",
        "strip_title": page.strip_title,
        "strip": [(cell.done, cell.due, cell.start) for cell in page.strip],
        "numbers": facts(page.numbers),
        "set_up": facts(page.set_up),
        "next_shift": [*page.next_shift],
        "standing": [*page.standing],
        "notes": [(note.at, note.text) for note in page.notes],
    }


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
    if chart.middles:
        axes.plot(*zip(*chart.middles, strict=True), color="0.2")
    if chart.usual:
        axes.hlines(chart.usual.volume_ml, chart.usual.x0_h, chart.x_high_h, color="0")
    for reading in {reading.mark for reading in chart.readings}:
        marked = [each for each in chart.readings if each.mark is reading]
        x, y = [each.x_h for each in marked], [each.volume_ml for each in marked]
        axes.plot(x, y, "ko", markersize=3.8)
    labelled = [tick for tick in chart.ticks if tick.label]
    axes.set_xticks([tick.x_h for tick in labelled], [str(tick.label) for tick in labelled])
    axes.set_yticks(list(chart.steps_ml))
    axes.set_ylim(0, chart.top_ml)
