"""Small workbooks (.xlsx) made part by part, as a spreadsheet writes them or as none does.

`workbook({"Night": rows(...)})` has a sheet for each name; `cell` makes one cell of a row.
"""

import csv
import io
import zipfile
from collections.abc import Iterable, Mapping
from html import escape

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OF_PARTS = "http://schemas.openxmlformats.org/package/2006"
OF_FILE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
# What a cell may be shown as, each with the style of its place here: `s="1"` for the second.
FORMATS = (
    *("General", "00000", "0%", "0.0 %", "#,##0", "h:mm", "[h]:mm", "hh:mm:ss", "h:mm AM/PM"),
    *("yyyy-mm-dd", "yyyy\\-mm\\-dd hh:mm", '[$-409]d/m/yy" s"', "@", "dd/mm/yyyy;@"),
)


def cell(value: object, shown: str = "General", kind: str = "", formula: str | None = None) -> str:
    """The XML of one cell. `kind` is 's' of the format: e (an error), b, str (of a formula), n."""
    style = f' s="{FORMATS.index(shown)}"' if shown != "General" else ""
    of_formula = "" if formula is None else f"<f>{escape(formula)}</f>"
    if isinstance(value, str) and not kind:
        return f'<c t="inlineStr"{style}><is><t xml:space="preserve">{escape(value)}</t></is></c>'
    of_value = "" if value is None else f"<v>{escape(str(value))}</v>"
    return f'<c t="{kind or "n"}"{style}>{of_formula}{of_value}</c>'


def rows(*given: Iterable[object]) -> str:
    """The XML of rows; what is no cell yet becomes one, and '' and None a blank one."""
    made = []
    for number, row in enumerate(given, start=1):
        cells = "".join(_made(each) for each in row)
        made.append(f'<row r="{number}">{cells}</row>')
    return "".join(made)


def _made(value: object) -> str:
    if isinstance(value, str) and value.startswith("<c"):
        return value
    return "<c/>" if value in (None, "") else cell(value)


def sheet_of(table: str, delimiter: str = ",") -> str:
    """The XML of the rows of a CSV text, each cell as text."""
    return rows(*csv.reader(io.StringIO(table), delimiter=delimiter))


def workbook(sheets: Mapping[str, str], more: Mapping[str, str | bytes] | None = None) -> bytes:
    """The bytes of a workbook; `more` are further parts, or others in their places."""
    numbered = list(enumerate(sheets.items(), start=1))
    names = "".join(
        f'<sheet name="{escape(name)}" sheetId="{number}" r:id="rId{number}"/>'
        for number, (name, _) in numbered
    )
    links = "".join(
        f'<Relationship Id="rId{number}" Type="{OF_FILE}/worksheet" '
        f'Target="worksheets/sheet{number}.xml"/>'
        for number, _ in numbered
    )
    kinds = "".join(
        f'<Override PartName="/xl/worksheets/sheet{number}.xml" '
        f'ContentType="{KIND}.worksheet+xml"/>'
        for number, _ in numbered
    )
    formats = "".join(
        f'<numFmt numFmtId="{164 + number}" formatCode="{escape(each)}"/>'
        for number, each in enumerate(FORMATS)
    )
    styles = "".join(f'<xf numFmtId="{164 + number}"/>' for number, _ in enumerate(FORMATS))
    parts: dict[str, str | bytes] = {
        "[Content_Types].xml": f'<Types xmlns="{OF_PARTS}/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{KIND}.sheet.main+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{KIND}.styles+xml"/>{kinds}</Types>',
        "_rels/.rels": f'<Relationships xmlns="{OF_PARTS}/relationships"><Relationship Id="rId1" '
        f'Type="{OF_FILE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{OF_FILE}">'
        f"<sheets>{names}</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{OF_PARTS}/relationships">{links}'
        f'<Relationship Id="rId0" Type="{OF_FILE}/styles" Target="styles.xml"/></Relationships>',
        "xl/styles.xml": f'<styleSheet xmlns="{MAIN}"><numFmts>{formats}</numFmts>'
        f"<fonts><font/></fonts><fills><fill><patternFill/></fill></fills><borders><border/></borders>"
        f"<cellStyleXfs><xf/></cellStyleXfs><cellXfs>{styles}</cellXfs></styleSheet>",
    }
    for number, (_, data) in numbered:
        parts[f"xl/worksheets/sheet{number}.xml"] = (
            f'<worksheet xmlns="{MAIN}"><sheetData>{data}</sheetData></worksheet>'
        )
    return zipped({**parts, **(more or {})})


def zipped(parts: Mapping[str, str | bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()
