"""Makes a drawn PDF one for everyone and for the archive: PDF/UA-1 (ISO 14289-1) and PDF/A-2a (ISO
19005-2) at once.

Input: ReportLab's bytes and the tree of their tags, or such PDFs to be joined. Output: PDF bytes,
the same for the same input. Metadata are the title, the language and the program's name, nothing of
a patient. With `join`, the only module that knows pikepdf.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from io import BytesIO
from struct import pack
from typing import Any
from zlib import decompress

import pikepdf
from pikepdf import Array, Dictionary, Name, Object

from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import packed

XMP = """<?xpacket begin="\N{ZERO WIDTH NO-BREAK SPACE}" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description xmlns:dc="http://purl.org/dc/elements/1.1/" \
xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" \
xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/" \
xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" \
xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#" rdf:about="">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>handoff</rdf:li></rdf:Seq></dc:creator>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<pdfaid:part>2</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>
<pdfuaid:part>1</pdfuaid:part>
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>the part of ISO 14289 it conforms to</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description></rdf:RDF></x:xmpmeta>

<?xpacket end="w"?>
"""

GREY = "Grey, gamma 2.2"


def _grey_profile() -> bytes:
    """What a grey means: an ICC profile (ICC.1:2001-04, version 2.1) of a grey whose light is its
    value to the power of 2.2, under D50. Every printer and screen comes near it.
    """

    def fixed(number: float) -> bytes:
        return pack(">i", round(number * 65536))

    name = GREY.encode() + b"\0"
    white = b"".join(map(fixed, (0.9642, 1.0, 0.8249)))  # D50
    tags = {
        b"desc": b"desc\0\0\0\0" + pack(">I", len(name)) + name + bytes(78),
        b"cprt": b"text\0\0\0\0" + b"Public domain\0",
        b"wtpt": b"XYZ \0\0\0\0" + white,
        b"kTRC": b"curv\0\0\0\0" + pack(">IH", 1, round(2.2 * 256)),
    }
    table, data = b"", b""
    start = 128 + 4 + 12 * len(tags)
    for tag, content in tags.items():
        table += tag + pack(">II", start + len(data), len(content))
        data += content + bytes(-len(content) % 4)
    header = pack(">I4x", start + len(data)) + bytes((2, 0x10, 0, 0)) + b"mntrGRAYXYZ "
    header += pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28) + white
    return header + bytes(128 - len(header)) + pack(">I", len(tags)) + table + data


GREY_PROFILE = _grey_profile()


def conforming(
    drawn: bytes, root: Element, marks: Sequence[Sequence[Element]], title: str, language: str
) -> bytes:
    """What was drawn, with its tree. `marks` has the element of each mark of each page."""
    with pikepdf.open(BytesIO(drawn)) as pdf:
        for number, page in enumerate(pdf.pages):
            page.obj.StructParents = number
            drawing = page.obj.Contents
            drawing.Filter = Name.FlateDecode  # no list of one, which is packed anew
            content = drawing.read_raw_bytes()
            if content.endswith(b"\r"):
                drawing.write(packed(decompress(content))[0], filter=Name.FlateDecode)
        tree = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        builder = _Builder(pdf, [page.obj for page in pdf.pages])
        tree.K = builder.built(root, tree)
        of_marks = [Array([builder.objects[element] for element in page]) for page in marks]
        put_parents(tree, map(pdf.make_indirect, of_marks))
        return closed(pdf, tree, title, language)


@dataclass(frozen=True, slots=True)
class _Builder:
    """Builds elements as objects of a PDF with these pages."""

    pdf: pikepdf.Pdf
    pages: Sequence[Object]
    objects: dict[Element, Object] = field(default_factory=dict)

    def built(self, element: Element, parent: Object) -> Object:
        """The element with all that it holds."""
        role, _, scope = element.role.partition(":")
        entries: dict[str, Any] = {"/S": Name(f"/{role}"), "/P": parent}
        if element.words:
            entries["/Alt"] = element.words
        if element.language:
            entries["/Lang"] = element.language
        if element.read:
            entries["/ActualText"] = element.read
        if element.box:
            entries["/A"] = Dictionary(O=Name.Layout, BBox=[round(each, 2) for each in element.box])
        if scope:
            entries["/A"] = Dictionary(O=Name.Table, Scope=Name(f"/{scope}"))
        own = element.marks()
        page = own[0][0] if own else element.begins()
        if page is not None:
            entries["/Pg"] = self.pages[page]
        marks = [
            mark if at == page else Dictionary(Type=Name.MCR, Pg=self.pages[at], MCID=mark)
            for at, mark in own
        ]
        leaf = len(marks) == len(element.kids)
        if leaf and marks:
            entries["/K"] = Array(marks) if len(marks) > 1 else marks[0]
        this = self.objects[element] = self.pdf.make_indirect(Dictionary(entries))
        if not leaf:
            these = iter(marks)
            kids = [
                self.built(e, this) if isinstance(e, Element) else next(these) for e in element.kids
            ]
            this.K = Array(kids)
        return this


def put_parents(tree: Object, of_marks: Iterable[Object]) -> None:
    """The way back from each mark to its element, page by page."""
    numbered = list(enumerate(of_marks))
    tree.ParentTree = Dictionary(Nums=[each for pair in numbered for each in pair])
    tree.ParentTreeNextKey = len(numbered)


def closed(pdf: pikepdf.Pdf, tree: Object, title: str, language: str) -> bytes:
    """The bytes of a PDF with all that the two standards ask for beside its tree."""
    catalog = pdf.Root
    catalog.StructTreeRoot = tree
    catalog.MarkInfo = Dictionary(Marked=True)
    catalog.Lang = language
    catalog.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    described = XMP.format(
        title=escape(title, quote=False), language=escape(language, quote=False)
    ).encode()
    catalog.Metadata = pikepdf.Stream(pdf, described, Type=Name.Metadata, Subtype=Name.XML)
    profile = pikepdf.Stream(pdf, GREY_PROFILE, N=1)
    intent = Dictionary(
        Type=Name.OutputIntent,
        S=Name.GTS_PDFA1,
        OutputConditionIdentifier=GREY,
        Info=GREY,
        DestOutputProfile=profile,
    )
    catalog.OutputIntents = Array([pdf.make_indirect(intent)])
    about = pdf.trailer.Info = pdf.make_indirect(Dictionary(Title=title, Author="handoff"))
    for page in pdf.pages:
        page.obj.Tabs = Name.S
    # The objects are packed into streams too, and one that ends in a carriage return is avoided as
    # in `packed`: one object more, and each has other objects.
    for holder, key in ((about, "/Title"), (about, "/Author"), (catalog, "/Lang"), (catalog, "")):
        content = _saved(pdf)
        if not key or b"\r\nendstream" not in content:
            break
        holder[key] = pdf.make_indirect(holder[key])
    return content


def _saved(pdf: pikepdf.Pdf) -> bytes:
    stream = BytesIO()
    pdf.save(
        stream,
        deterministic_id=True,
        force_version="1.7",
        fix_metadata_version=False,  # they name none; they would be read and written again to see
        object_stream_mode=pikepdf.ObjectStreamMode.generate,
    )
    return stream.getvalue()
