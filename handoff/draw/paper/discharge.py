"""The page to take home and the log to fill in: large print, two pages.

Input: a `DischargePage`. Output: a PDF. The print is as large as the page allows and never under
`LEAST_PT`. What is too long for a side, such as a very long name or a unit's own words, goes on
onto the next and is never cut.
"""

from collections.abc import Callable, Sequence

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.blocks import Block, stack, text_block
from handoff.draw.paper.canvas import MARGIN_PT, open_canvas, rule
from handoff.draw.paper.typeface import BOLD
from handoff.draw.paper.typeset import BASELINE, leading_of, put_text, width_of
from handoff.model.pages import Advice, DayBar, DischargePage, Fact, HomeLog

LEAST_PT = 14.0
SIZES_PT = (16.0, 15.5, 15.0, 14.5, LEAST_PT)
TITLE_SHARE, HEADING_SHARE = 1.5, 1.15  # of the size of the text
LEAST_GAP_PT, LOG_GAP_PT, MOST_GAP_PT = 3.0, 7.0, 14.0
GUTTER_PT, BOX_PAD_PT, TO_WRITE_PT = 18.0, 7.0, 130.0
LEAST_ROW_PT, MOST_ROW_PT = 28.0, 64.0
# Shares of the log's width: date, three times of day, best, dizzy.
LOG_SHARES = (0.2, 0.165, 0.165, 0.165, 0.145, 0.16)
LINES_FOR_QUESTIONS = 2
BAR_GRAY = 0.35


def draw_discharge(
    page: DischargePage, paper: tuple[float, float], title: str, language: str = "en"
) -> bytes:
    """The page to take home and the log as PDF bytes; `paper` is (width, height) in points."""
    canvas, stream = open_canvas(paper, title, language)
    width, height = (length - 2 * MARGIN_PT for length in paper)
    who = _identity(page.identity, width)
    room = height - who.height - LEAST_GAP_PT
    for blocks in _sides(page, width, room):
        free = (room - sum(block.height for block in blocks)) / len(blocks)
        gap = min(max(free, LEAST_GAP_PT), MOST_GAP_PT)
        stack([who, *blocks], gap).draw(canvas, MARGIN_PT, paper[1] - MARGIN_PT)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _sides(page: DischargePage, width: float, height: float) -> Sequence[Sequence[Block]]:
    """The advice, then the log; what the first side has no room for stands above the log."""
    sides = _broken(_largest(lambda size: _advice(page, width, size), height), height)
    above = sides.pop() if len(sides) > 1 else []
    left = height - _height(above)
    log = _largest(lambda size: _log(page, width, left, size), left)
    return [*sides, *_broken([*above, *log], height)]


def _largest(build: Callable[[float], Sequence[Block]], height: float) -> Sequence[Block]:
    """The blocks in the largest print in which they fit, else in the smallest."""
    for size in SIZES_PT:
        blocks = build(size)
        if _height(blocks) <= height:
            break
    return blocks


def _broken(blocks: Sequence[Block], height: float) -> list[Sequence[Block]]:
    """The blocks in order, as many on a page as fit."""
    sides: list[list[Block]] = [[]]
    for block in blocks:
        if sides[-1] and _height([*sides[-1], block]) > height:
            sides.append([])
        sides[-1].append(block)
    return list(sides)


def _height(blocks: Sequence[Block]) -> float:
    return sum(block.height + LEAST_GAP_PT for block in blocks)


def _advice(page: DischargePage, width: float, size: float) -> Sequence[Block]:
    half = (width - GUTTER_PT) / 2
    amount = _list(page.amount, half, size, "•" * len(page.amount.lines))
    return [
        _title(page.title, width, size),
        _led(page.purpose, width, size),
        _list(page.steps, width, size, [f"{n}." for n, _ in enumerate(page.steps.lines, 1)]),
        _beside(amount, _bests(page, half, size), half),
        stack([_led(fact, width, size) for fact in page.feelings], gap=2),
        _whom_to_call(page.unit, width, size),
        _boxes([(page.call, 0.8), (page.emergency, 2.4)], half, size),
        _led(page.device, width, size),
        text_block(page.standing, width, size=size),
    ]


def _log(page: DischargePage, width: float, height: float, size: float) -> Sequence[Block]:
    log = page.log
    above = [_title(log.title, width, size), _led(log.amount, width, size)]
    above.append(text_block(log.how, width, size=size))
    below = [_led(log.bring, width, size), _questions(log.questions, width, size)]
    taken = sum(block.height + LOG_GAP_PT for block in (*above, *below))
    table = _table(log, width, height - taken - LOG_GAP_PT, size)
    return [*above, table, *below]


def _identity(identity: Sequence[Fact], width: float) -> Block:
    """The two identifiers over a rule, the same on both sides."""
    under = Block(5, lambda canvas, x, top: rule(canvas, x, top - 5, width, 1.2))
    return stack([*(_led(fact, width, LEAST_PT) for fact in identity), under])


def _title(words: str, width: float, size: float) -> Block:
    return text_block(words, width, size=size * TITLE_SHARE, bold=True)


def _led(fact: Fact, width: float, size: float) -> Block:
    """A paragraph after its label in bold, or a line to write on where it has no words."""
    if not fact.value:
        return _to_fill_in(fact.label, width, size)
    return text_block(fact.value, width, size=size, lead=fact.label)


def _whom_to_call(unit: Fact, width: float, size: float) -> Block:
    """The unit and its phone, all in bold; a line to write the phone on where there is none."""
    if not unit.value:
        return _to_fill_in(unit.label, width, size)
    return text_block(f"{unit.label} {unit.value}", width, size=size, bold=True)


def _list(advice: Advice, width: float, size: float, marks: Sequence[str]) -> Block:
    """A heading, and a line for each sentence with its number or dot."""
    pairs = zip(marks, advice.lines, strict=True)
    lines = [_item(mark, line, width, size) for mark, line in pairs]
    return stack([_heading(advice.title, width, size), *lines], gap=1)


def _heading(words: str, width: float, size: float) -> Block:
    return text_block(words, width, size=size * HEADING_SHARE, bold=True)


def _item(mark: str, words: str, width: float, size: float) -> Block:
    """A sentence with a number or a dot before it."""
    indent = size * 1.3
    said = text_block(words, width - indent, size=size)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - BASELINE * size, mark, size, BOLD)
        said.draw(canvas, x + indent, top)

    return Block(said.height, draw)


def _beside(left: Block, right: Block, left_width: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        left.draw(canvas, x, top)
        right.draw(canvas, x + left_width + GUTTER_PT, top)

    return Block(max(left.height, right.height), draw)


def _bests(page: DischargePage, width: float, size: float) -> Block:
    """A bar a day, its number at the end."""
    bars = page.bests
    title = _heading(page.bests_title, width, size)
    if not bars:
        return stack([title, text_block(page.no_bests, width, size=size)])
    days = max(width_of(bar.day, size) for bar in bars) + 6
    values = max(width_of(bar.value, size, BOLD) for bar in bars) + 6
    longest = max(width - days - values, 0)
    return stack([title, *(_bar(bar, days, longest, size) for bar in bars)], gap=1)


def _bar(bar: DayBar, left: float, longest: float, size: float) -> Block:
    length = bar.share * longest

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - BASELINE * size, bar.day, size)
        canvas.saveState()
        canvas.setFillGray(BAR_GRAY)
        canvas.rect(x + left, top - BASELINE * size, length, size * 0.72, stroke=0, fill=1)
        canvas.restoreState()
        put_text(canvas, x + left + length + 6, top - BASELINE * size, bar.value, size, BOLD)

    return Block(size * 1.2, draw)


def _boxes(advices: Sequence[tuple[Advice, float]], width: float, size: float) -> Block:
    """Advice side by side, each in an outline of its weight; the heavier, the more urgent."""
    inner = width - 2 * BOX_PAD_PT
    boxes = [(_boxed(advice, inner, size), weight) for advice, weight in advices]
    height = max(said.height for said, _ in boxes) + 2 * BOX_PAD_PT

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for said, weight in boxes:
            canvas.setLineWidth(weight)
            canvas.rect(x, top - height, width, height)
            said.draw(canvas, x + BOX_PAD_PT, top - BOX_PAD_PT)
            x += width + GUTTER_PT

    return Block(height, draw)


def _boxed(advice: Advice, width: float, size: float) -> Block:
    lines = [text_block(advice.title, width, size=size, bold=True)]
    lines += [_item("•", line, width, size) for line in advice.lines]
    return stack(lines, gap=1)


def _to_fill_in(label: str, width: float, size: float) -> Block:
    """A label in bold, and a line to write on after it."""
    said = text_block(label, width - TO_WRITE_PT, size=size, bold=True)
    end = min(width_of(label, size, BOLD), width - TO_WRITE_PT) + 5
    baseline = said.height - leading_of(size) + BASELINE * size

    def draw(canvas: Canvas, x: float, top: float) -> None:
        said.draw(canvas, x, top)
        rule(canvas, x + end, top - baseline - 3, width - end, 0.8)

    return Block(said.height + size * 0.3, draw)


def _table(log: HomeLog, width: float, height: float, size: float) -> Block:
    """The rows to fill in: a day each, as high as the page allows."""
    head = size * 1.7
    row = min(max((height - head) / len(log.days), LEAST_ROW_PT), MOST_ROW_PT)
    edges = [sum(LOG_SHARES[:index]) * width for index in range(len(LOG_SHARES) + 1)]
    taken = head + row * len(log.days)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for left, column in zip(edges, log.columns, strict=False):
            put_text(canvas, x + left + 5, top - size * 1.15, column, size, BOLD)
        for index, day in enumerate(log.days):
            cell_top = top - head - row * index
            middle = cell_top - row / 2 - size * 0.34
            put_text(canvas, x + 5, cell_top - size * 1.15, day, size)
            _answers(canvas, log.answers, x + edges[-2], middle, (width * LOG_SHARES[-1], size))
        for index in range(len(log.days) + 1):
            rule(canvas, x, top - head - row * index, width, 0.8)
        rule(canvas, x, top, width, 0.8)
        for edge in edges:
            canvas.line(x + edge, top, x + edge, top - taken)

    return Block(taken, draw)


def _answers(
    canvas: Canvas, answers: Sequence[str], x: float, y: float, column: tuple[float, float]
) -> None:
    width, size = column
    for index, answer in enumerate(answers):
        put_text(canvas, x + width * (index + 0.5) / len(answers), y, answer, size, align=0.5)


def _questions(label: str, width: float, size: float) -> Block:
    """Lines to write on, the first after its label."""
    first = _to_fill_in(label, width, size)
    more = Block(size * 1.7, lambda canvas, x, top: rule(canvas, x, top - size * 1.5, width, 0.8))
    return stack([first, *[more] * (LINES_FOR_QUESTIONS - 1)])
