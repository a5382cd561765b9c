"""The patient sheets in one file for the printer, in bed order, with a bookmark for each bed.

Input: finished PDFs, each with the tree of its tags. Output: one PDF with the same pages, each
sheet a part of one tree.
"""

from collections.abc import Sequence
from io import BytesIO
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name

from handoff.draw.paper.conform import closed, put_parents


def join_sheets(sheets: Sequence[tuple[str, bytes]], title: str, language: str = "en") -> bytes:
    """Join (bookmark, PDF bytes) pairs; the same input gives the same bytes.

    The bookmark is the label of its page too, so that a reader shows the bed instead of a number.
    """
    joined = pikepdf.new()
    tree = joined.make_indirect(Dictionary(Type=Name.StructTreeRoot))
    root = joined.make_indirect(Dictionary(S=Name.Document, P=tree, K=Array()))
    tree.K = root
    labels: list[object] = []
    of_marks: list[Any] = []
    with joined.open_outline() as outline:
        for bookmark, sheet in sheets:
            first_page = len(joined.pages)
            with pikepdf.open(BytesIO(sheet)) as source:
                joined.pages.extend(source.pages)
                # The pages are there, so that their elements come to the copies of them.
                of_sheet = joined.copy_foreign(source.Root.StructTreeRoot)
            part = of_sheet.K
            part.S, part.T, part.P = Name.Part, bookmark, root
            root.K.append(part)
            of_marks += list(of_sheet.ParentTree.Nums)[1::2]
            outline.root.append(pikepdf.OutlineItem(bookmark, first_page))
            labels += [first_page, Dictionary(P=bookmark)]
    for number, page in enumerate(joined.pages):
        page.obj.StructParents = number
    put_parents(tree, of_marks)
    joined.Root.PageLabels = Dictionary(Nums=Array(labels))
    return closed(joined, tree, title, language)
