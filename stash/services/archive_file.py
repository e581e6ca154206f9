"""An archive as a file that may have come from anywhere: opened, and each member compared with its checksum."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from stash.errors import InvalidInput, NotFound, StorageError

_LARGEST_MEMBER = 2_000_000_000
_LARGEST_MANIFEST = 64 * 2**20
_MOST_PACKED = 200
"""How many times its packed size a large member may have; ours have 10 to 30. Source: project decision."""
_WORTH_ASKING = 32 * 2**20
_MANIFEST = "manifest.json"
_OURS = re.compile(r"tables/[^/]+\.csv|ledger/[a-z_]+\.jsonl|photos/.+", re.DOTALL)
_SHA256 = re.compile(r"[0-9a-f]{64}")
_USE_ANOTHER = "Use another copy; nothing was written."


def opened(path: Path) -> zipfile.ZipFile:
    """Open an archive.

    Raises:
        NotFound: There is no such file.
        StorageError: It can't be read.
        InvalidInput: It is no zip.
    """
    try:
        return zipfile.ZipFile(path)
    except FileNotFoundError:
        raise NotFound(f"There is no file {path}", "Check the name.") from None
    except OSError as error:
        raise StorageError(f"{path} can't be read: {error.strerror}", "Check the disk and your rights.") from error
    except zipfile.BadZipFile as error:
        if _is_database(path):
            raise InvalidInput(f"{path} is a database, not an archive", "Name it with --db instead.") from error
        raise _not_ours(error) from error


def manifest(zipped: zipfile.ZipFile, format_: int) -> dict[str, str]:
    """Return what the archive should hold, ``{member: SHA-256}``; all of it is there, and nothing else.

    Raises:
        InvalidInput: It is no archive, has another format, or lacks a member or has one too many; says which.
    """
    try:
        read = json.loads(_content(zipped, _MANIFEST, _LARGEST_MANIFEST))
        digests = {str(name): str(digest) for name, digest in dict(read["members"]).items()}
        has = read["format"]
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise _not_ours(error) from error
    if has != format_:
        raise InvalidInput(f"This archive has format {has}, not {format_}", "Use a newer version.")
    names = zipped.namelist()
    seen = Counter(names)
    _refuse_any(sorted(set(digests) - set(names)), "The archive lacks {}", _USE_ANOTHER)
    _refuse_any(sorted(set(names) - {*digests, _MANIFEST}), "{} in the archive is not in its manifest", _USE_ANOTHER)
    _refuse_any(sorted({name for name in names if seen[name] > 1}), "The archive holds {} twice", _USE_ANOTHER)
    strange = sorted(name for name in digests if not _OURS.fullmatch(name))
    _refuse_any(strange, "{} in the archive is nothing this version knows", "Use a newer version.")
    return digests


def photos(digests: Mapping[str, str]) -> dict[str, str]:
    """Return the photos of a manifest; a name that is no SHA-256 could lead out of the photo folder.

    Raises:
        InvalidInput: A photo has such a name.
    """
    found = {name: digest for name, digest in digests.items() if name.startswith("photos/")}
    wrong = [name for name, digest in found.items() if name != f"photos/{digest}" or not _SHA256.fullmatch(digest)]
    _refuse_any(wrong, "{} in the archive is not named as its content asks", _USE_ANOTHER)
    return found


def member(zipped: zipfile.ZipFile, name: str, digest: str) -> bytes:
    """Return what a member holds, proven.

    Raises:
        InvalidInput: It is damaged or unpacks to too much.
    """
    content = _content(zipped, name, _LARGEST_MEMBER)
    if hashlib.sha256(content).hexdigest() != digest:
        raise InvalidInput(f"{name} in the archive is damaged: its checksum differs", _USE_ANOTHER)
    return content


def lines(members: Mapping[str, bytes], name: str, *, needed: bool) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield the rows of a member with the numbers of their lines.

    Raises:
        InvalidInput: It is needed and not there, or a line is no row; says which.
    """
    if needed and name not in members:
        raise InvalidInput(f"The archive lacks {name}", _USE_ANOTHER)
    for number, line in enumerate(members.get(name, b"").splitlines(), start=1):
        try:
            row = json.loads(line)
        except (ValueError, RecursionError) as error:
            raise no_line(name, number, error) from error
        if not isinstance(row, dict):
            raise no_line(name, number, "not a row")
        yield number, row


def no_line(name: str, number: int, why: object) -> InvalidInput:
    """Make the error for a line of a member that can't be taken."""
    return InvalidInput(f"{name} in the archive is damaged: line {number} can't be read ({why})", _USE_ANOTHER)


def _content(zipped: zipfile.ZipFile, name: str, largest: int) -> bytes:
    info = zipped.getinfo(name)
    if info.file_size > largest or info.file_size > max(_WORTH_ASKING, info.compress_size * _MOST_PACKED):
        raise InvalidInput(f"{name} in the archive unpacks to too much", _USE_ANOTHER)
    try:
        return zipped.read(name)
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, RuntimeError) as error:
        raise InvalidInput(f"{name} in the archive is damaged ({error})", _USE_ANOTHER) from error


def _refuse_any(names: list[str], said: str, mend: str) -> None:
    if names:
        raise InvalidInput(said.format(names[0]), mend)


def _is_database(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(15) == b"SQLite format 3"


def _not_ours(why: object) -> InvalidInput:
    return InvalidInput(f"This is not an archive of ours, or it is damaged ({why})", _USE_ANOTHER)
