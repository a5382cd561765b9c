"""Makes a drawn PDF one for everyone and for the archive: PDF/UA-1 (ISO 14289-1) and PDF/A-2a (ISO
19005-2) at once.

Input: ReportLab's bytes and the tree of their tags, or such PDFs to be joined. Output: PDF bytes,
the same for the same input. Metadata are the title, the language and the program's name, nothing of
a patient. With `join`, the only module that knows pikepdf.
"""

from collections.abc import Iterable, Sequence
from html import escape
from io import BytesIO
from struct import pack
from zlib import decompress

import pikepdf
from msgspec import field
from pikepdf import Array, Dictionary, Name, Object, String

from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import packed
from handoff.model.frozen import Frozen

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
    drawn: bytes,
    root: Element,
    pages: Sequence[tuple[int, Sequence[Element]]],
    title: str,
    language: str,
) -> bytes:
    """What was drawn, with its tree. `pages` has of each page its number among the objects, and the
    element of each mark.
    """
    tree = _Tree(_first_free(drawn), [number for number, _ in pages])
    root_reference = tree.written(root, f"{tree.first} 0 R")
    tree.objects[0] = f"<</Type /StructTreeRoot /K {root_reference}>>"
    of_marks = [
        tree.added(f"[{' '.join(tree.references[element] for element in marks)}]")
        for _, marks in pages
    ]
    with pikepdf.open(BytesIO(_updated(drawn, tree))) as pdf:
        for number, page in enumerate(pdf.pages):
            page.obj.StructParents = number
            drawing = page.obj.Contents
            drawing.Filter = Name.FlateDecode  # no list of one, which is packed anew
            content = drawing.read_raw_bytes()
            if content.endswith(b"\r"):
                drawing.write(packed(decompress(content))[0], filter=Name.FlateDecode)
        root_of_tree = pdf.get_object(tree.first, 0)
        put_parents(root_of_tree, (pdf.get_object(number, 0) for number in of_marks))
        return closed(pdf, root_of_tree, title, language)


class _Tree(Frozen):
    """The tree as the text of objects, numbered from `first` on, of a PDF with these pages. A page
    has over a hundred elements, and pikepdf reads each sooner than it is told of it.
    """

    first: int
    pages: Sequence[int]
    objects: list[str] = field(default_factory=lambda: [""])  # the first one is the tree's own
    references: dict[Element, str] = field(default_factory=dict)

    def added(self, written: str) -> int:
        """The number of one more object."""
        self.objects.append(written)
        return self.first + len(self.objects) - 1

    def written(self, element: Element, parent: str) -> str:
        """The reference to an element, which is written with all that it holds."""
        number = self.added("")
        this = self.references[element] = f"{number} 0 R"
        role, _, scope = element.role.partition(":")
        entries = [f"/S /{role} /P {parent}"]
        for key, words in (
            ("Alt", element.words),
            ("Lang", element.language),
            ("ActualText", element.read),
        ):
            if words:
                entries.append(f"/{key} {String(words).unparse().decode('latin-1')}")
        if element.box:
            box = Array([round(each, 2) for each in element.box])
            entries.append(f"/A <</O /Layout /BBox {box.unparse().decode()}>>")
        if scope:
            entries.append(f"/A <</O /Table /Scope /{scope}>>")
        page = element.begins()
        if page is not None:
            entries.append(f"/Pg {self.pages[page]} 0 R")
        kids: list[str] = []
        for kid in element.kids:
            if isinstance(kid, Element):
                kids.append(self.written(kid, this))
            elif kid[0] == page:
                kids.append(str(kid[1]))
            else:
                kids.append(f"<</Type /MCR /Pg {self.pages[kid[0]]} 0 R /MCID {kid[1]}>>")
        is_one_mark = len(kids) == 1 and not isinstance(element.kids[0], Element)
        if kids:
            entries.append(f"/K {kids[0]}" if is_one_mark else f"/K [{' '.join(kids)}]")
        self.objects[number - self.first] = f"<<{' '.join(entries)}>>"
        return this


def _first_free(drawn: bytes) -> int:
    """The number that an object written behind a PDF of ReportLab has."""
    return int(drawn[drawn.rindex(b"/Size") + 5 :].split(maxsplit=1)[0])


def _updated(drawn: bytes, tree: _Tree) -> bytes:
    """A PDF of ReportLab with the tree's objects behind it, in one stream: pikepdf would ask for
    each of them in many small pieces (ISO 32000-1, 7.5.6 to 7.5.8).
    """
    head, end = drawn.rsplit(b"startxref", maxsplit=1)
    trailer = head[head.rindex(b"trailer") :]
    entries = trailer[trailer.index(b"<<") + 2 : trailer.rindex(b">>")]
    count, places, place = len(tree.objects), "", 0
    for number, written in enumerate(tree.objects, start=tree.first):
        places += f"{number} {place} "
        place += len(written) + 1
    objects = (places + "\n".join(tree.objects)).encode("latin-1")
    holder = tree.first + count
    held = _stream(holder, b"/Type /ObjStm /N %d /First %d" % (count, len(places)), objects)
    rows = [
        *(pack(">BII", 2, holder, index) for index in range(count)),
        pack(">BII", 1, len(drawn), 0),
    ]
    size = b"/Size %d" % tree.first
    more = b"/Size %d /Prev %d" % (holder + 2, int(end.split()[0]))
    found = b"/Type /XRef /W [1 4 4] /Index [%d %d]" % (tree.first, len(rows))
    table = _stream(holder + 1, found + entries.replace(size, more), b"".join(rows))
    return b"%b%b%bstartxref\n%d\n%%%%EOF\n" % (drawn, held, table, len(drawn) + len(held))


def _stream(number: int, entries: bytes, content: bytes) -> bytes:
    """A stream as an object."""
    head = b"%d 0 obj\n<<%b /Length %d>>\nstream\n" % (number, entries, len(content))
    return b"%b%b\nendstream\nendobj\n" % (head, content)


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
