"""Reads the tree of a PDF's tags back, as a screen reader finds it. Knows nothing of `draw`."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from io import BytesIO
from itertools import pairwise
from typing import Any

import page as page_validation
import pikepdf

PAINTING = frozenset({"S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "sh", "Do", "EI"})


@dataclass
class Node:
    """An element: its role with the scope of a header cell, and what is heard at it.

    `parts` are its elements and the texts of its own marks, in reading order. `alt` are the words
    of a figure, `read` those of letters that are drawn turned around; `depth` is 0 of the root.
    """

    role: str
    depth: int
    alt: str = ""
    language: str = ""
    title: str = ""
    read: str = ""
    parts: "list[Node | str]" = field(default_factory=list)

    @property
    def kids(self) -> "list[Node]":
        """Its elements, but for the parts of its own text."""
        return [each for each in self.parts if isinstance(each, Node) and each.role != "Span"]

    @property
    def text(self) -> str:
        """Its own text as it is read aloud, with single spaces."""
        return " ".join(self._said().split())

    def _said(self) -> str:
        if self.read:
            return self.read
        spans = [e if isinstance(e, str) else e._said() for e in self.parts if self._is_text(e)]
        return "".join(spans)

    @staticmethod
    def _is_text(part: "Node | str") -> bool:
        return isinstance(part, str) or part.role == "Span"

    def all(self) -> "Iterator[Node]":
        """The element and all that it holds, in reading order."""
        yield self
        for kid in self.kids:
            yield from kid.all()

    def line(self) -> str:
        """How it is printed in a golden file."""
        words = self.alt or self.text
        role = f"{self.role} in {self.language}" if self.language else self.role
        return f"{'  ' * self.depth}{role}{': ' if words else ''}{words}"


@dataclass(frozen=True)
class Tagged:
    """A PDF with its tree."""

    content: bytes

    @cached_property
    def _read(self) -> tuple[Node, list[list[str]], list[str], list[str]]:
        with pikepdf.open(BytesIO(self.content)) as pdf:
            pages = [_marked(page) for page in pdf.pages]
            numbers = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}
            faults: list[str] = []
            parents = _parents(pdf)
            held: set[tuple[int, int]] = set()

            def node(element: Any, depth: int) -> Node:
                made = _node(element, depth)
                kids = element.get("/K", pikepdf.Array())
                for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
                    if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
                        if kid.P.objgen != element.objgen:
                            faults.append(f"{kid.S} does not name its parent")
                        made.parts.append(node(kid, depth + 1))
                        continue
                    at = kid if isinstance(kid, pikepdf.Dictionary) else element
                    mark = kid.MCID if isinstance(kid, pikepdf.Dictionary) else kid
                    place = numbers[at.Pg.objgen], int(mark)
                    held.add(place)
                    if parents.get(place) != element.objgen:
                        faults.append(f"mark {place} does not lead to its element")
                    made.parts.append(pages[place[0]].marks.get(place[1], "no such mark"))
                return made

            root = node(pdf.Root.StructTreeRoot.K, 0)
            marks = {(n, mark) for n, page in enumerate(pages) for mark in page.marks}
            faults += [f"mark {each} is in no element" for each in sorted(marks - held)]
        return (
            root,
            [page.decoration for page in pages],
            [each for page in pages for each in page.untagged],
            faults,
        )

    @property
    def root(self) -> Node:
        return self._read[0]

    @property
    def decoration(self) -> list[list[str]]:
        """The words on each page that are not read aloud."""
        return self._read[1]

    @property
    def untagged(self) -> list[str]:
        """What is drawn and neither in an element nor decoration."""
        return self._read[2]

    @property
    def faults(self) -> list[str]:
        """Where tree and pages do not lead to each other."""
        return self._read[3]

    def lines(self) -> list[str]:
        """The tree, a line for each element."""
        return [each.line() for each in self.root.all()]


def _node(element: Any, depth: int) -> Node:
    attributes = element.get("/A", {})
    scope = f" {str(attributes['/Scope'])[1:].lower()}" if "/Scope" in attributes else ""
    keys = "/Alt", "/Lang", "/T", "/ActualText"
    alt, language, title, read = (str(element.get(key, "")) for key in keys)
    return Node(str(element.S)[1:] + scope, depth, alt, language, title, read)


def _parents(pdf: pikepdf.Pdf) -> dict[tuple[int, int], tuple[int, int]]:
    """By (page, mark) which element the tree of parents leads to."""
    nums = list(pdf.Root.StructTreeRoot.ParentTree.Nums)
    by_key = dict(zip(map(int, nums[::2]), nums[1::2], strict=True))
    return {
        (number, mark): element.objgen
        for number, page in enumerate(pdf.pages)
        for mark, element in enumerate(by_key[int(page.obj.StructParents)])
    }


@dataclass
class _Page:
    marks: dict[int, str] = field(default_factory=dict)
    decoration: list[str] = field(default_factory=list)
    untagged: list[str] = field(default_factory=list)


def _marked(page: pikepdf.Page) -> _Page:
    """What the page's content shows, by its marks."""
    found = _Page()
    letters = {name: _letters(font) for name, font in page.Resources.Font.items()}
    font: dict[int, str] = {}
    open_marks: list[tuple[str, Any]] = []
    for instruction in pikepdf.parse_content_stream(page):
        operands: Any = instruction.operands
        name = str(instruction.operator)
        if name in ("BMC", "BDC"):
            open_marks.append((str(operands[0]), operands[1] if name == "BDC" else {}))
            if "/MCID" in open_marks[-1][1]:
                assert int(open_marks[-1][1].MCID) not in found.marks, "a mark twice"
                found.marks[int(open_marks[-1][1].MCID)] = ""
        elif name == "EMC":
            open_marks.pop()
        elif name == "Tf":
            font = letters[str(operands[0])]
        shows = name in ("Tj", "TJ", "'", '"')
        if not shows and name not in PAINTING:
            continue
        text = "".join(font[code] for code in bytes(operands[0])) if shows else ""
        mark = next((int(each.MCID) for _, each in open_marks if "/MCID" in each), None)
        if mark is not None:
            found.marks[mark] += text
        elif any(kind == "/Artifact" for kind, _ in open_marks):
            found.decoration += [text] if text.strip() else []
        else:
            found.untagged.append(f"{name} {text}")
    assert not open_marks, "a mark that does not end"
    return found


def _letters(font: Any) -> dict[int, str]:
    """The letter of each code of a font."""
    cmap = font.ToUnicode.read_bytes().decode("ascii")
    pairs = re.findall(r"<([0-9A-F]{2})> <((?:[0-9A-F]{4})+)>", cmap)
    return {int(code, 16): bytes.fromhex(letter).decode("utf-16-be") for code, letter in pairs}


def faults(content: bytes) -> list[str]:
    """What an independent validator finds against either standard."""
    reports = [page_validation.validate_pdf_bytes(content, profile=each) for each in ("ua1", "2a")]
    return [f"{each.rule_id}: {each.message}" for report in reports for each in report.failures]


HEADINGS = ("H1", "H2", "H3", "H4")


def structure_faults(read: Tagged) -> list[str]:
    """What is wrong with the tree of a PDF; nothing, whatever it holds."""
    found = [*read.untagged, *read.faults]
    nodes = list(read.root.all())
    levels = [HEADINGS.index(node.role) + 1 for node in nodes if node.role in HEADINGS]
    found += ["the first heading is not H1"] * (levels[:1] != [1])
    found += [f"H{b} under H{a}" for a, b in pairwise(levels) if b > a + 1]
    for node in nodes:
        kids = [kid.role.partition(" ")[0] for kid in node.kids]
        match node.role:
            case "Figure" if not node.alt:
                found.append("a figure without words")
            case "L" if set(kids) != {"LI"}:
                found.append(f"a list of {kids}")
            case "LI" if kids not in (["LBody"], ["Lbl", "LBody"]):
                found.append(f"an item of {kids}")
            case "Table" if set(kids) != {"TR"} or len({len(row.kids) for row in node.kids}) != 1:
                found.append(f"a table of {[len(row.kids) for row in node.kids]} cells a row")
            case "TR" if not set(kids) <= {"TH", "TD"}:
                found.append(f"a row of {kids}")
        if node.role in ("Document", "Part", "L", "LI", "Table", "TR") and node.text:
            found.append(f"{node.role} holds words of its own")
    return found


def heard(read: Tagged) -> str:
    """All that is read aloud, in order, with single spaces."""
    return " ".join(node.alt or node.text for node in read.root.all() if node.alt or node.text)
