"""Tags: what each piece of a page is, in the order in which it is read aloud.

Input: elements, named while a page is drawn. Output: their tree, and marks on the page that lead to
it (ISO 32000-1, 14.6 to 14.8). What is in no element is decoration. Nothing can be drawn untagged:
words that nobody named are a paragraph, and lines and boxes are decoration.
"""

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import IO, Any, cast

from msgspec import Struct, field
from reportlab.pdfgen.canvas import Canvas as PlainCanvas
from reportlab.pdfgen.pathobject import PDFPathObject
from reportlab.pdfgen.textobject import PDFTextObject

# Header cells: of a column, and of a row.
COLUMN_HEAD, ROW_HEAD = "TH:Column", "TH:Row"
# Elements that hold elements, and no words of their own.
GROUPS = frozenset({"Document", "Part", "L", "LI", "Table", "TR"})


class Element(Struct, eq=False):
    """A piece of the page: a heading, a list, a cell of a table, a figure.

    `role` is its standard type, `TH` with its scope after a colon. `words` say what a figure shows,
    and `read` is how letters are read that are drawn turned around.
    `kids` are its elements and marks (page, number on the page) in reading order; `box` is the
    place of a figure: left, bottom, right, top in points. `language` is that of its words, where it
    is not the document's.
    """

    role: str
    words: str = ""
    box: tuple[float, float, float, float] | None = None
    read: str = ""
    parent: "Element | None" = None
    kids: "list[Element | tuple[int, int]]" = field(default_factory=list)
    language: str = ""

    def marks(self) -> "list[tuple[int, int]]":
        """Its own marks."""
        return [kid for kid in self.kids if not isinstance(kid, Element)]

    def begins(self) -> int | None:
        """The page of its first mark; of a table, which has none, that of its first cell's."""
        marks = self.marks()
        if marks:
            return marks[0][0]
        cells = self.kids if self.role in ("Table", "TR") else []
        pages = (kid.begins() for kid in cells if isinstance(kid, Element))
        return next((page for page in pages if page is not None), None)


ARTIFACT = Element("Artifact")  # decoration, and what is printed again on each page


class TaggedCanvas(PlainCanvas):
    """A canvas that tags what is drawn. `root` is the tree, and `marks` the element of each mark of
    each page.
    """

    def __init__(
        self, stream: IO[bytes], paper: tuple[float, float], font: str, size: float
    ) -> None:
        self.root = Element("Document")
        self.marks: list[list[Element]] = [[]]
        self._element = self.root
        self._open: Element | None = None
        super().__init__(
            stream,
            pagesize=paper,
            invariant=1,
            initialFontName=cast("Any", font),  # which the stubs take for a number
            initialFontSize=size,
        )

    @contextmanager
    def within(self, *elements: Element) -> Iterator[None]:
        """What is drawn in it belongs to the last of the elements, each held by the one before.

        An element that is entered again goes on: a table on the next page. All that is drawn within
        `ARTIFACT` is decoration, whatever it is called.
        """
        before = self._element
        for element in elements:
            if ARTIFACT in (element, self._element):
                self._element = ARTIFACT
                continue
            if element.parent is None:
                element.parent = self._element
                self._element.kids.append(element)
            self._element = element
        figure = self.in_figure
        if figure:
            self._mark(self._element)
        yield
        if figure:
            self._close()
        self._element = before
        for element in reversed(elements):  # a list of nothing is none
            if element.parent and element.role in GROUPS and not element.kids:
                element.parent.kids.remove(element)
                element.parent = None

    def add(self, element: Element) -> None:
        """An element that holds nothing, such as a cell to write in."""
        with self.within(element):
            pass

    @property
    def in_figure(self) -> bool:
        """True while a figure is drawn, which is read as its words."""
        return self._element.role == "Figure"

    def paragraph(self) -> AbstractContextManager[None]:
        """The words drawn in it are one paragraph, where no element that holds words is named."""
        return self.within(Element("P")) if self._element.role in GROUPS else nullcontext()

    # From here on the names are ReportLab's.

    def drawText(self, aTextObject: PDFTextObject) -> None:
        """Lines of text, in the element that is named."""
        with self.paragraph():
            self._mark(self._element)
            super().drawText(aTextObject)

    def line(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """A line: decoration, but in a figure."""
        self._mark_drawing()
        super().line(x1, y1, x2, y2)

    def rect(
        self, x: float, y: float, width: float, height: float, stroke: float = 1, fill: float = 0
    ) -> None:
        """A box: decoration, but in a figure."""
        self._mark_drawing()
        super().rect(x, y, width, height, stroke, fill)

    def circle(
        self, x_cen: float, y_cen: float, r: float, stroke: float = 1, fill: float = 0
    ) -> None:
        """A circle: decoration, but in a figure."""
        self._mark_drawing()
        super().circle(x_cen, y_cen, r, stroke, fill)

    def drawPath(
        self, aPath: PDFPathObject, stroke: int = 1, fill: int = 0, fillMode: int | None = None
    ) -> None:
        """A path: decoration, but in a figure."""
        self._mark_drawing()
        super().drawPath(aPath, stroke, fill, fillMode)

    def saveState(self) -> None:
        """Keep the state of drawing."""
        self._close_text()
        super().saveState()

    def restoreState(self) -> None:
        """Back to the state that was kept."""
        self._close_text()
        super().restoreState()

    def showPage(self) -> None:
        """End the page."""
        self._close()
        super().showPage()
        self.marks.append([])

    def _mark_drawing(self) -> None:
        self._mark(self._element if self.in_figure else ARTIFACT)

    def _mark(self, element: Element) -> None:
        """What is drawn next belongs to the element. Neighbours share one mark."""
        if self._open is element:
            return
        self._close()
        self._open = element
        if element is ARTIFACT:
            self.addLiteral("/Artifact BMC")
            return
        page, number = len(self.marks) - 1, len(self.marks[-1])
        self.marks[-1].append(element)
        element.kids.append((page, number))
        self.addLiteral(f"/{element.role.partition(':')[0]} <</MCID {number}>> BDC")

    def _close_text(self) -> None:
        """No mark crosses what keeps and restores the state; that of a figure is around it."""
        if not self.in_figure:
            self._close()

    def _close(self) -> None:
        if self._open is not None:
            self.addLiteral("EMC")
            self._open = None
