"""Workbooks made for tests: proper ones, and archives whose parts are written by hand."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping
from typing import Any

import openpyxl  # type: ignore[import-untyped]

SHEET = "xl/worksheets/sheet1.xml"
STRINGS = "xl/sharedStrings.xml"
NAMESPACE = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
DECLARE_STRINGS = (
    '<Override PartName="/xl/sharedStrings.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/></Types>'
)


def workbook(rows: Iterable[Iterable[Any]], sheet: str = "tasks", as_text: bool = False) -> bytes:
    """A workbook with these rows; `as_text` keeps texts that begin with = from being formulas."""
    book = openpyxl.Workbook()
    page = book.active
    page.title = sheet
    for row in rows:
        page.append(list(row))
        if as_text:
            for cell in page[page.max_row]:
                cell.data_type = "s" if isinstance(cell.value, str) else cell.data_type
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def with_parts(parts: Mapping[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A workbook in which these parts stand in place of its own, or beside them."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook([["id"]]))) as own, zipfile.ZipFile(buffer, "w", compression) as made:
        for name in own.namelist():
            content = own.read(name)
            if name == "[Content_Types].xml" and STRINGS in parts:
                content = content.replace(b"</Types>", DECLARE_STRINGS.encode())
            if name not in parts:
                made.writestr(name, content)
        for name, content in parts.items():
            made.writestr(name, content)
    return buffer.getvalue()


def sheet_xml(rows: str) -> bytes:
    """The part of a sheet with these rows."""
    return f"<worksheet {NAMESPACE}><sheetData>{rows}</sheetData></worksheet>".encode()


def strings_xml(items: str) -> bytes:
    """The part that lists the texts of a workbook."""
    return f"<sst {NAMESPACE}>{items}</sst>".encode()


def declaring(data: bytes, size: int) -> bytes:
    """The same archive, each member of which says that it unpacks to so many bytes."""
    changed, at = bytearray(data), 0
    while (at := changed.find(b"PK\x01\x02", at)) >= 0:
        changed[at + 24 : at + 28] = size.to_bytes(4, "little")
        at += 4
    return bytes(changed)
