"""Workbooks out as .ods.

The three parts of the file are written directly: a library that builds an object for every cell takes about fifty times
as long (see ``benchmarks/tables.md``), and the format of a plain table is small. Every text is typed as text, so none
is a formula.

Source: OpenDocument 1.2 part 1 (OASIS), 9.1 tables, 19.385 office:value-type; part 3, 3.3 the mimetype entry.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape, quoteattr

from stash.exchange.raw import FIRST_DATE, CellTables
from stash.kernel.exact import decimal_text, parse_decimal
from stash.kernel.tables import TABLES, Cell, Column, Table

_MIME = "application/vnd.oasis.opendocument.spreadsheet"
_NUMBERS = frozenset((Cell.WHOLE, Cell.YEAR, Cell.EXACT, Cell.MONEY, Cell.MEASURED))
_DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>\n'
_MANIFEST = (
    f'{_DECLARATION}<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" '
    'manifest:version="1.2">'
    f'<manifest:file-entry manifest:full-path="/" manifest:version="1.2" manifest:media-type="{_MIME}"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
    "</manifest:manifest>"
)
_SPACES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (
        ("office", "office"),
        ("text", "text"),
        ("table", "table"),
        ("style", "style"),
        ("number", "datastyle"),
        ("fo", "xsl-fo-compatible"),
    )
)
_STYLES = (
    "<office:automatic-styles>"
    '<number:date-style style:name="d"><number:year number:style="long"/><number:text>-</number:text>'
    '<number:month number:style="long"/><number:text>-</number:text><number:day number:style="long"/>'
    "</number:date-style>"
    '<number:number-style style:name="m"><number:number number:decimal-places="2" number:min-integer-digits="1"/>'
    "</number:number-style>"
    '<style:style style:name="date" style:family="table-cell" style:data-style-name="d"/>'
    '<style:style style:name="money" style:family="table-cell" style:data-style-name="m"/>'
    '<style:style style:name="head" style:family="table-cell"><style:text-properties fo:font-weight="bold"/>'
    "</style:style></office:automatic-styles>"
)


def render_ods(tables: CellTables) -> bytes:
    """Return the workbook's bytes; the same tables make the same bytes.

    Args:
        tables: ``{table: rows of cell texts}``; tables left out get an empty sheet.
    """
    parts = [_DECLARATION, f'<office:document-content {_SPACES} office:version="1.2">', _STYLES]
    parts.append("<office:body><office:spreadsheet>")
    parts.extend(_about())
    for table in TABLES:
        parts.extend(_sheet(table, tables.get(table.name, ())))
    parts.append("</office:spreadsheet></office:body></office:document-content>")
    return _package("".join(parts))


def _package(content: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        files = (("mimetype", _MIME), ("content.xml", content), ("META-INF/manifest.xml", _MANIFEST))
        for name, text in files:
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            archive.writestr(entry, text.encode("utf-8"))
    return out.getvalue()


def _about() -> Iterator[str]:
    yield '<table:table table:name="About">'
    yield f"<table:table-row>{_text('table', 'head')}{_text('what a row is', 'head')}</table:table-row>"
    for table in TABLES:
        yield f"<table:table-row>{_text(table.name)}{_text(table.about)}</table:table-row>"
    yield "</table:table>"


def _sheet(table: Table, rows: Sequence[Sequence[str]]) -> Iterator[str]:
    yield f"<table:table table:name={quoteattr(table.name)}><table:table-header-rows><table:table-row>"
    yield "".join(_text(name, "head") for name in table.names)
    yield "</table:table-row></table:table-header-rows>"
    for row in rows:
        yield "<table:table-row>"
        for column, text in zip(table.columns, row, strict=True):
            yield _cell(column, text)
        yield "</table:table-row>"
    yield "</table:table>"


def _cell(column: Column, text: str) -> str:
    if not text:
        return "<table:table-cell/>"
    if column.cell in _NUMBERS and _canonical(column, text):
        style = ' table:style-name="money"' if column.cell is Cell.MONEY else ""
        shown = f'office:value-type="float" office:value="{text}"'
        return f"<table:table-cell{style} {shown}><text:p>{text}</text:p></table:table-cell>"
    if column.cell is Cell.DATE and text >= FIRST_DATE.isoformat():
        shown = f'office:value-type="date" office:date-value="{text}"'
        return f'<table:table-cell table:style-name="date" {shown}><text:p>{text}</text:p></table:table-cell>'
    return _text(text)


def _canonical(column: Column, text: str) -> bool:
    """Whether a number comes back as exactly this text: a choice such as 007 must stay a word."""
    number = parse_decimal(text)
    return number is not None and (column.cell is Cell.MONEY or decimal_text(number) == text)


def _text(text: str, style: str = "") -> str:
    styled = f' table:style-name="{style}"' if style else ""
    lines = "".join(f"<text:p>{_spaced(line)}</text:p>" for line in text.split("\n"))
    return f'<table:table-cell{styled} office:value-type="string">{lines}</table:table-cell>'


def _spaced(line: str) -> str:
    """Keep runs of spaces, which XML text would fold into one."""
    escaped = escape(line)
    if escaped.startswith(" "):
        escaped = "<text:s/>" + escaped[1:]
    while "  " in escaped:
        escaped = escaped.replace("  ", " <text:s/>", 1)
    return escaped
