"""Unpacks an XLSX file under limits that do not depend on what the file says about itself.

An XLSX file is a ZIP archive of XML. A few megabytes of it may unpack to gigabytes, and the sizes that it declares may be false.
Therefore every member is unpacked in small steps that are counted. The workbook reader then gets an archive of the checked
members, stored without compression, which cannot grow any further.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path

from dashboard.core.base.problems import InputError
from dashboard.log.limits import TAGS_PER_ROW, TableLimits
from dashboard.log.textfile import refusal

ARCHIVE_MARK = b"PK"
MEMBER_MARK = b"PK\x01\x02"
MOST_MEMBERS = 2_000
STEP_BYTES = 65_536
PACKED_BY = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)  # the others cannot be unpacked in small steps
CURE = "Remove rows, columns and sheets that are not needed."
_PARTS = (".xml", ".rels")  # pictures and macros are not unpacked
_WITHOUT_RESULT = re.compile(
    rb"<(?:\w+:)?c(?P<about>\s[^<>]*)>\s*<(?:\w+:)?f(?:\s[^<>]*)?(?:/>|>[^<]*</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\s*(?:/>|>\s*</(?:\w+:)?v>))?\s*</(?:\w+:)?c>"
)
_ROW = re.compile(rb"<(?:\w+:)?(?:row|si)[\s/>]")  # a row of a sheet, or an entry in the list of its texts
_CELL = re.compile(rb'\sr="([A-Z]+[0-9]+)"')


def unpacked(path: Path, data: bytes, limits: TableLimits) -> dict[str, bytes]:
    """Unpack the XML parts of a workbook.

    Parameters
    ----------
    path
        The file, to be named in errors.
    data
        Its bytes.
    limits
        How large the workbook may be.

    Returns
    -------
    dict
        Content of each part by its name. Pictures and macros are left out.

    Raises
    ------
    InputError
        When the file is not an archive, is damaged, unpacks to more than its limits, or holds what no spreadsheet writes.
    """
    if not data.startswith(ARCHIVE_MARK):
        raise refusal(path, limits.what, "a file of another kind", "Save the sheet as XLSX or CSV.")
    if data.count(MEMBER_MARK) > MOST_MEMBERS:
        raise refusal(path, f"{limits.what} of at most {MOST_MEMBERS} parts", "more", "Save the sheet again, alone in its file.")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = [member for member in archive.infolist() if member.filename.endswith(_PARTS)]
            if any(member.compress_type not in PACKED_BY for member in members):
                raise refusal(path, limits.what, "a part packed in a way that no spreadsheet uses", "Save the sheet again.")
            declared = sum(member.file_size for member in members)
            if declared > limits.unpacked_mb * 1e6:
                raise _too_large(path, limits, f"{declared / 1e6:.0f} MB")
            return _inflated_parts(path, archive, members, limits)
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError, EOFError, ValueError, zlib.error) as wrong:
        raise refusal(path, limits.what, f"a damaged file ({type(wrong).__name__})", "Save the sheet again.") from None


def stored(parts: Mapping[str, bytes]) -> io.BytesIO:
    """Make an archive of parts without compression.

    Parameters
    ----------
    parts
        Content of each part by its name.

    Returns
    -------
    BytesIO
        A ZIP archive, to be read from its beginning.
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    buffer.seek(0)
    return buffer


def cells_without_result(parts: Mapping[str, bytes]) -> frozenset[str]:
    """Find the cells that hold a formula without a saved result. An empty text is a result.

    Parameters
    ----------
    parts
        Content of each part by its name, as `unpacked` gives it.

    Returns
    -------
    frozenset of str
        Cells of any sheet, such as ``B2``.
    """
    return frozenset(
        cell[1].decode()
        for name, content in parts.items() if name.startswith("xl/worksheets/")
        for found in _WITHOUT_RESULT.finditer(content) if b't="str"' not in found["about"]
        if (cell := _CELL.search(found["about"]))
    )


def _inflated_parts(
    path: Path, archive: zipfile.ZipFile, members: Sequence[zipfile.ZipInfo], limits: TableLimits
) -> dict[str, bytes]:
    parts: dict[str, bytes] = {}
    bytes_left, tags_left = int(limits.unpacked_mb * 1e6), limits.tags
    for member in members:
        content = _inflated(archive, member, bytes_left)
        if content is None:
            raise _too_large(path, limits, "more than it declares")
        bytes_left -= len(content)
        tags_left -= content.count(b"<")
        if tags_left < 0:
            raise refusal(path, f"{limits.what} of at most {limits.tags} XML tags", "more", CURE)
        _check_part(path, content, limits)
        parts[member.filename] = content
    return parts


def _inflated(archive: zipfile.ZipFile, member: zipfile.ZipInfo, most: int) -> bytes | None:
    """The content of a member, read in steps; None as soon as it is longer than `most` bytes."""
    member.file_size = most + 2 * STEP_BYTES  # the declared size may be false, and the reader would stop there
    steps, length = [], 0
    with archive.open(member) as content:
        while step := content.read(STEP_BYTES):
            length += len(step)
            if length > most:
                return None
            steps.append(step)
    return b"".join(steps)


def _check_part(path: Path, content: bytes, limits: TableLimits) -> None:
    if b"\0" in content or b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        found = "a part with a document type, entities or text that is not UTF-8, which no spreadsheet writes"
        raise refusal(path, limits.what, found, "Save the sheet again.")
    rows = [0, *(found.start() for found in _ROW.finditer(content)), len(content)]
    if max(content.count(b"<", begin, end) for begin, end in pairwise(rows)) > TAGS_PER_ROW:
        raise refusal(path, f"{limits.what} of at most {TAGS_PER_ROW} XML tags in a row", "more", CURE)
    if len(rows) - 2 > limits.cells:
        raise refusal(path, f"{limits.what} of at most {limits.cells} cells with text", "more", CURE)


def _too_large(path: Path, limits: TableLimits, found: str) -> InputError:
    return refusal(path, f"{limits.what} that unpacks to at most {limits.unpacked_mb:g} MB", found, CURE)
