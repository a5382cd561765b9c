"""The patient sheets in one file for the printer, in bed order, with a bookmark for each bed.

Input: finished one-page PDFs. Output: one PDF with the same pages. The only module that knows
pikepdf.
"""

from collections.abc import Sequence
from io import BytesIO

import pikepdf


def join_sheets(sheets: Sequence[tuple[str, bytes]], title: str, language: str = "en") -> bytes:
    """Join (bookmark, PDF bytes) pairs; the same input gives the same bytes.

    The bookmark is the label of its page too, so that a reader shows the bed instead of a number.
    """
    joined = pikepdf.new()
    labels: list[object] = []
    with joined.open_outline() as outline:
        for bookmark, sheet in sheets:
            with pikepdf.open(BytesIO(sheet)) as source:
                first_page = len(joined.pages)
                joined.pages.extend(source.pages)
            outline.root.append(pikepdf.OutlineItem(bookmark, first_page))
            labels += [first_page, pikepdf.Dictionary(P=bookmark)]
    joined.docinfo["/Title"] = title
    joined.docinfo["/Author"] = "handoff"
    joined.Root.Lang = language
    joined.Root.PageLabels = pikepdf.Dictionary(Nums=pikepdf.Array(labels))
    stream = BytesIO()
    joined.save(stream, deterministic_id=True, compress_streams=False)
    return stream.getvalue()
