"""Small workbooks for tests, written part by part so that each oddity is there on purpose.

A cell is a text, a number, a bool, a date, a datetime, None, or one of the records below.
"""

import datetime as dt
import io
import stat
import zipfile
from dataclasses import dataclass
from xml.sax.saxutils import escape

XLSX_EPOCH = dt.datetime(1899, 12, 30)
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
STYLES = (
    f'<styleSheet xmlns="{MAIN}"><numFmts count="1"><numFmt numFmtId="164" '
    'formatCode="yyyy\\-mm\\-dd\\ hh:mm"/></numFmts><fonts count="1"><font/></fonts><fills '
    'count="1"><fill/></fills><borders count="1"><border/></borders><cellStyleXfs count="1"><xf/>'
    '</cellStyleXfs><cellXfs count="3"><xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/>'
    '<xf numFmtId="164" applyNumberFormat="1"/></cellXfs></styleSheet>'
)


@dataclass(frozen=True)
class Formula:
    """A formula with the value that was worked out when the file was saved."""

    text: str
    value: float


@dataclass(frozen=True)
class Wrong:
    """A cell that shows an error, such as #N/A."""

    text: str


@dataclass(frozen=True)
class Percent:
    """A cell that shows 60 % and holds 0.6."""

    value: float


def xlsx_bytes(*sheets, hidden=(), merged=()):
    """Return an .xlsx of (name, rows) sheets; those named in `hidden` are not shown.

    `merged` are ranges, such as A1:C1, that are one cell in every sheet.
    """
    names = [name for name, _ in sheets]
    numbers = range(1, len(sheets) + 1)
    kinds = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    overrides = [("/xl/workbook.xml", "sheet.main"), ("/xl/styles.xml", "styles")]
    overrides += [(f"/xl/worksheets/sheet{i}.xml", "worksheet") for i in numbers]
    listed = "".join(
        f'<sheet name="{escape(name)}" sheetId="{i}" r:id="rId{i}"'
        + (' state="hidden"/>' if name in hidden else "/>")
        for i, name in zip(numbers, names, strict=True)
    )
    links = [(f"rId{i}", "worksheet", f"worksheets/sheet{i}.xml") for i in numbers]
    ranges = "".join(f'<mergeCell ref="{one}"/>' for one in merged)
    merges = f"<mergeCells>{ranges}</mergeCells>" if ranges else ""
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default '
        'Extension="xml" ContentType="application/xml"/>'
        + "".join(
            f'<Override PartName="{part}" ContentType="{kinds}.{kind}+xml"/>'
            for part, kind in overrides
        )
        + "</Types>",
        "_rels/.rels": relationships([("rId1", "officeDocument", "xl/workbook.xml")]),
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{REL}"><sheets>{listed}</sheets>'
        "</workbook>",
        "xl/_rels/workbook.xml.rels": relationships([*links, ("rIdS", "styles", "styles.xml")]),
        "xl/styles.xml": STYLES,
    }
    for i, (_, rows) in zip(numbers, sheets, strict=True):
        parts[f"xl/worksheets/sheet{i}.xml"] = (
            f'<worksheet xmlns="{MAIN}"><sheetData>{"".join(xlsx_rows(rows))}</sheetData>'
            f"{merges}</worksheet>"
        )
    return packed(parts)


def relationships(links):
    rows = "".join(
        f'<Relationship Id="{key}" Type="{REL}/{kind}" Target="{target}"/>'
        for key, kind, target in links
    )
    return f'<Relationships xmlns="{PACKAGE}/relationships">{rows}</Relationships>'


def xlsx_rows(rows):
    for number, row in enumerate(rows, 1):
        cells = "".join(
            xlsx_cell(f"{column_name(at)}{number}", value)
            for at, value in enumerate(row)
            if value is not None
        )
        yield f'<row r="{number}">{cells}</row>'


def column_name(at):
    name = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, 26)
        name = chr(65 + rest) + name
    return name


def xlsx_cell(place, value):
    if isinstance(value, Formula):
        return f'<c r="{place}"><f>{escape(value.text)}</f><v>{value.value!r}</v></c>'
    if isinstance(value, Wrong):
        return f'<c r="{place}" t="e"><v>{value.text}</v></c>'
    if isinstance(value, bool):
        return f'<c r="{place}" t="b"><v>{int(value)}</v></c>'
    if isinstance(value, dt.date):
        moment = value if isinstance(value, dt.datetime) else dt.datetime(*value.timetuple()[:3])
        days = (moment - XLSX_EPOCH) / dt.timedelta(days=1)
        style = 2 if isinstance(value, dt.datetime) else 1
        return f'<c r="{place}" s="{style}"><v>{days:.9f}</v></c>'
    if isinstance(value, int | float):
        return f'<c r="{place}"><v>{value!r}</v></c>'
    return f'<c r="{place}" t="inlineStr"><is><t>{escape(str(value))}</t></is></c>'


def ods_bytes(*sheets):
    """Return an .ods of (name, rows) sheets, padded with blank rows as spreadsheets write it."""
    tables = "".join(
        f'<table:table table:name="{escape(name)}">'
        + "".join(
            f"<table:table-row>{''.join(map(ods_cell, row))}</table:table-row>" for row in rows
        )
        + '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'table:number-columns-repeated="1024"/></table:table-row></table:table>'
        for name, rows in sheets
    )
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    spaces = " ".join(f'xmlns:{name}="{urn}:{name}:1.0"' for name in ("office", "table", "text"))
    content = (
        f'<office:document-content {spaces} office:version="1.3"><office:body>'
        f"<office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        f'<manifest:manifest xmlns:manifest="{urn}:manifest:1.0"><manifest:file-entry '
        f'manifest:full-path="/" manifest:media-type="{kind}"/><manifest:file-entry '
        'manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
    )
    return packed({"mimetype": kind, "content.xml": content, "META-INF/manifest.xml": manifest})


def ods_cell(value):
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, Percent):
        kind, text = f'percentage" office:value="{value.value!r}', f"{100 * value.value:g}%"
    elif isinstance(value, bool):
        kind, text = f'boolean" office:boolean-value="{str(value).lower()}', str(value)
    elif isinstance(value, dt.date):
        kind, text = f'date" office:date-value="{value.isoformat()}', value.isoformat()
    elif isinstance(value, int | float):
        kind, text = f'float" office:value="{value!r}', str(value)
    else:
        kind, text = "string", escape(str(value))
    return (
        f'<table:table-cell office:value-type="{kind}"><text:p>{text}</text:p></table:table-cell>'
    )


def symbolic_link(path):
    """Return the entry of a zip that unpacks to a link; its content says where to."""
    info = zipfile.ZipInfo(path)
    info.create_system, info.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
    return info


def packed(parts):
    """Return a zip of {path: text}, alike each time it is made."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for path, text in parts.items():
            head = "" if path == "mimetype" else '<?xml version="1.0" encoding="UTF-8"?>'
            info = zipfile.ZipInfo(path, (2026, 1, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            file.writestr(info, head + text)
    return out.getvalue()
