"""The catalogue's files as they travel: single, or packed into one ZIP."""

import io
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from pathlib import PurePosixPath

from estimates.calc.csv_table import MOST_BYTES, Problem
from estimates.catalogue_tables import FILES

# More than the catalogue's files by far; a ZIP that holds more is another ZIP.
MOST_ENTRIES = 30
# Spreadsheets on other systems read CSV as UTF-8 only with this mark before it.
MARK = "utf-8-sig"


def pack(files: Mapping[str, str]) -> bytes:
    """Files of text as one ZIP; the same files give the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name), content.encode(MARK), zipfile.ZIP_DEFLATED)
    return out.getvalue()


def unpack(uploads: Iterable[tuple[str, bytes]]) -> tuple[dict[str, bytes], list[Problem]]:
    """Single files and what ZIPs hold, by name in small letters, and what is wrong with them as files.

    A ZIP's folders do not count, nor what a system hides in it (names that start with a point or two underscores).
    No more is unpacked than MOST_BYTES and one byte of each entry, whatever the ZIP says of its size.
    """
    files: dict[str, bytes] = {}
    problems = []
    for upload, data in uploads:
        entries = [(upload, data)]
        if upload.lower().endswith(".zip"):
            try:
                entries = list(_entries(data))
            except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, ValueError, EOFError) as error:
                problems.append(Problem(upload, 0, "", f"the ZIP cannot be opened ({error})"))
                continue
        for entry, content in entries:
            name = PurePosixPath(entry.replace("\\", "/")).name.lower()
            if name in files:
                problems.append(Problem(name, 0, "", "came twice; send it once"))
            files[name] = content
    return files, problems


def _entries(data: bytes) -> list[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        wanted = [info for info in archive.infolist() if not info.is_dir() and not _is_hidden(info.filename)]
        if len(wanted) > MOST_ENTRIES:
            raise ValueError(f"{len(wanted)} files in it; the catalogue has {len(FILES)}")
        found = []
        for info in wanted:
            with archive.open(info) as entry:
                found.append((info.filename, entry.read(MOST_BYTES + 1)))
        return found


def _is_hidden(name: str) -> bool:
    return any(part.startswith((".", "__")) for part in PurePosixPath(name).parts)
