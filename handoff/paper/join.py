"""The patient sheets in one file for the printer, in bed order, with a bookmark for each bed.

Enters: finished one-page PDFs. Leaves: one PDF with the same pages. The only module that knows
pikepdf.
"""

from collections.abc import Sequence
from io import BytesIO

import pikepdf


def join_sheets(sheets: Sequence[tuple[str, bytes]], title: str, language: str = "en") -> bytes:
    """Join (bookmark, PDF bytes) pairs; the same input gives the same bytes."""
    joined = pikepdf.new()
    with joined.open_outline() as outline:
        for bookmark, sheet in sheets:
            with pikepdf.open(BytesIO(sheet)) as source:
                first_page = len(joined.pages)
                joined.pages.extend(source.pages)
            outline.root.append(pikepdf.OutlineItem(bookmark, first_page))
    joined.docinfo["/Title"] = title
    joined.docinfo["/Author"] = "handoff"
    joined.Root.Lang = language
    stream = BytesIO()
    joined.save(stream, deterministic_id=True, compress_streams=False)
    return stream.getvalue()
