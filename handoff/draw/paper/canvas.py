"""A page to draw on: ReportLab's canvas with the sheets' fonts, lines of text, boxes and drawings.

Input: finished words and marks with their place in points. Output: PDF bytes, the same for the
same input. Chooses nothing.
"""

from collections.abc import Callable
from io import BytesIO

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper import typeface
from handoff.draw.paper.typeset import put_text, width_of
from handoff.model.figure import Drawing
from handoff.model.verdicts import Level, Priority

MARGIN_PT = 12 * mm
PAPERS: dict[str, tuple[float, float]] = {"letter": LETTER, "a4": A4}
HAIRLINE_PT = 0.4
MARK_PAD_PT = 7.0  # about the mark beside a level

# Streams as bytes, not as letters that stand for them: a quarter smaller, and sooner written.
rl_config.useA85 = 0


def open_canvas(
    paper: tuple[float, float], title: str, language: str = "en", label: str | None = None
) -> tuple[Canvas, BytesIO]:
    """A canvas whose bytes are repeatable and whose every font is embedded.

    `label` names the only page in a reader; without one it numbers the pages. `title` and author
    are the document's only metadata and must hold nothing of a patient.
    """
    typeface.face_of(typeface.REGULAR)
    stream = BytesIO()
    canvas = Canvas(
        stream,
        pagesize=paper,
        invariant=1,
        initialFontName=typeface.REGULAR,
        initialFontSize=typeface.BODY_PT,
        lang=language,
    )
    canvas.setTitle(title)
    canvas.setAuthor("handoff")
    canvas.addPageLabel(0, style=None if label else "ARABIC", prefix=label)
    return canvas, stream


def rule(canvas: Canvas, x: float, y: float, width: float, weight: float = HAIRLINE_PT) -> None:
    """A horizontal line."""
    canvas.setLineWidth(weight)
    canvas.line(x, y, x + width, y)


def put_level(
    canvas: Canvas,
    level: Level | Priority,
    words: str,
    box: tuple[float, float, float, float],
    size: float,
    mark: str = "",
) -> None:
    """The priority as a word in a shape: black, heavy outline or light outline; beside it in a
    light one the mark that says that it was told, which then takes its part of the box.
    """
    x, y, width, height = box
    if mark:
        part = width_of(mark, size, typeface.BOLD) + MARK_PAD_PT
        put_mark(canvas, mark, (x + width - part, y, part, height), size)
        width -= part
    escalates = level in (Level.ESCALATE, Priority.ESCALATE)
    follows = level in (Level.FOLLOW_UP, Priority.FOLLOW_UP)
    weight = 1.6 if follows else 0.5
    _put_word(canvas, words, (x, y, width, height), size, weight, black=escalates)


def put_mark(
    canvas: Canvas,
    mark: str,
    box: tuple[float, float, float, float],
    size: float,
    *,
    black: bool = False,
) -> None:
    """The mark that says that it was told, in a light outline; one that says that it was not is
    white on black."""
    _put_word(canvas, mark, box, size, 0.5, black=black)


def _put_word(
    canvas: Canvas,
    word: str,
    box: tuple[float, float, float, float],
    size: float,
    weight: float,
    *,
    black: bool = False,
) -> None:
    """A word in a box, white on black or in an outline."""
    x, y, width, height = box
    inset = weight / 2
    canvas.saveState()
    canvas.setLineWidth(weight)
    canvas.rect(x + inset, y + inset, width - 2 * inset, height - 2 * inset, fill=int(black))
    canvas.setFillGray(1 if black else 0)
    put_text(
        canvas, x + width / 2, y + height / 2 - size * 0.34, word, size, typeface.BOLD, align=0.5
    )
    canvas.restoreState()


def put_tick_box(canvas: Canvas, x: float, baseline: float) -> None:
    """An empty box to tick, beside a line of body text."""
    canvas.setLineWidth(0.7)
    canvas.rect(x, baseline - 1, 7.5, 7.5)


def put_drawing(canvas: Canvas, drawing: Drawing, x: float, y: float) -> None:
    """The marks and words of a drawing, its lower left corner at (x, y)."""
    canvas.saveState()
    canvas.translate(x, y)
    for path in drawing.paths:
        canvas.saveState()
        if path.clip:
            clip = canvas.beginPath()
            clip.rect(*path.clip)
            canvas.clipPath(clip, stroke=0, fill=0)
        outline = canvas.beginPath()
        steps: dict[str, Callable[..., None]] = {
            "M": outline.moveTo,
            "L": outline.lineTo,
            "C": outline.curveTo,
            "Z": outline.close,
        }
        for command, *numbers in path.commands:
            steps[command](*(round(number, 2) for number in numbers))
        canvas.setLineWidth(path.width)
        canvas.setDash(list(path.dash))
        if path.stroke:
            canvas.setStrokeColorRGB(*path.stroke)
        if path.fill:
            canvas.setFillColorRGB(*path.fill)
        canvas.drawPath(
            outline, stroke=int(path.stroke is not None), fill=int(path.fill is not None)
        )
        canvas.restoreState()
    for text in drawing.texts:
        put_text(
            canvas,
            text.x,
            text.y,
            text.text,
            text.size,
            typeface.BOLD if text.bold else typeface.REGULAR,
            longest=None if text.align else drawing.width - text.x,
            align=text.align,
        )
    canvas.restoreState()
