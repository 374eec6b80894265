"""A zip whose bytes are a function of what is in it, and its strict reading.

Members stand in a given order, dated 1980-01-01, stored and not compressed: compressors differ from one version to the
next, and the same events must be the same bytes on every machine. Whoever wants it small compresses the whole file.

Reading never unpacks to a disk. It refuses names other than those that are allowed, names twice, encryption, links,
sizes over a member's bound and what swells; a file that another program packed again is read, and that is told.
"""

from __future__ import annotations

import os
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from course.errors import NotFoundError, RefusedError, StorageError

MOST_BYTES = 4_000_000_000
"""Of a whole file. Above this a zip needs other headers; some five million events are below it."""
REPACKED = (
    "The file was packed again by another program, or changed between its members; each member is checked by itself."
)
_DAY = (1980, 1, 1, 0, 0, 0)
_UNIX, _MODE = 3, (stat.S_IFREG | 0o644) << 16
_CHUNK = 1 << 20
_SWELLS, _SMALL = 200, 10_000_000
_LOCAL_HEADER = 30
_MOST_MEMBERS = 5000
_FAULTS = (
    zipfile.BadZipFile, zlib.error, EOFError, struct.error, NotImplementedError, RuntimeError, ValueError,
    OverflowError,
)  # fmt: skip


class OddFileError(ValueError):
    """A file that is not to be read on; the text goes on after "...: "."""


def pack(out: Path, members: Sequence[tuple[str, Path | bytes]]) -> None:
    """Write a zip under another name beside its place, and give it its name once it is whole and on the disk.

    Args:
        out: the file to make.
        members: name and content, or the file that holds it, in order.

    Raises:
        RefusedError: there is a file of that name, or the whole would be too large.
        StorageError: it cannot be written; nothing is left behind.
    """
    if out.exists():
        raise RefusedError(f"{out} is there already. Name another file; nothing was changed.")
    beside: Path | None = None
    try:
        with tempfile.NamedTemporaryFile(dir=out.parent, prefix=f".{out.name[:40]}.", delete=False) as handle:
            beside = Path(handle.name)
            with zipfile.ZipFile(handle, "w", zipfile.ZIP_STORED, allowZip64=False) as made:
                for name, content in members:
                    _add(made, name, content)
            handle.flush()
            os.fsync(handle.fileno())
        beside.replace(out)
    except zipfile.LargeZipFile as error:
        raise RefusedError(f"{out.name} would be larger than 4 GB. Nothing was written.") from error
    except OSError as error:
        raise StorageError(f"{out} could not be written ({error.strerror or error}). Nothing was written.") from error
    finally:
        if beside:
            with suppress(FileNotFoundError):
                beside.unlink()


def packed(members: Sequence[tuple[str, Path | bytes]]) -> bytes:
    """Return the same zip as bytes, without a file of it anywhere: for what is small and for one person's eyes."""
    whole = BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_STORED, allowZip64=False) as made:
        for name, content in members:
            _add(made, name, content)
    return whole.getvalue()


def _add(made: zipfile.ZipFile, name: str, content: Path | bytes) -> None:
    info = _info(name, len(content) if isinstance(content, bytes) else content.stat().st_size)
    with made.open(info, "w") as member:
        if isinstance(content, bytes):
            member.write(content)
        else:
            with content.open("rb") as source:
                while chunk := source.read(_CHUNK):
                    member.write(chunk)


def _info(name: str, size: int) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _DAY)
    info.create_system, info.external_attr, info.file_size = _UNIX, _MODE, size
    return info


class Archive:
    """An open zip whose names, sizes and kinds were looked at before anything is read. Close it or use it as a context.

    Args:
        file: the zip.
        bound: the most bytes that a member of a name may have; None where no member has that name.

    Attributes:
        names: the members in order.
        repacked: whether it is not, byte for byte, as `pack` would write it.

    Raises:
        NotFoundError: there is no such file.
        RefusedError: it is no zip, or holds what it must not.
    """

    def __init__(self, file: Path, bound: Callable[[str], int | None]) -> None:
        self.file = file
        try:
            self._handle = file.open("rb")
        except OSError as error:
            raise NotFoundError(f"{file} cannot be opened ({error.strerror}). Name a file that is there.") from error
        try:
            self._infos = self._look(bound)
            self.repacked = self._is_repacked()
        except _FAULTS as error:
            self.close()
            why = str(error) if isinstance(error, OddFileError) else self._no_zip()
            raise RefusedError(f"{file.name} was not read: {why}. Nothing was taken from it.") from error
        self.names = tuple(self._infos)

    def _no_zip(self) -> str:
        """Why it cannot be read at all; what to do about it depends on which it is."""
        with self.file.open("rb") as handle:
            begins = handle.read(2)
        if not begins:
            return "it is empty. Have it made or copied again"
        if begins != b"PK":
            return "it is no zip file. Choose another file"
        return "it is no whole zip file: a copy of it may have broken off. Copy it again"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let the file go."""
        self._handle.close()

    def size(self, name: str) -> int:
        """Return how many bytes a member says it has."""
        return self._infos[name].file_size

    def read(self, name: str) -> bytes:
        """Return a member that is known to be small."""
        return b"".join(self.chunks(name))

    def digest(self, name: str) -> str:
        """Return the SHA-256 of a member as 64 hex digits."""
        seen = sha256()
        for chunk in self.chunks(name):
            seen.update(chunk)
        return seen.hexdigest()

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield a member piece by piece, never more bytes than it says it has.

        Its CRC is not asked: a manifest's SHA-256 says more, and a reader who wants to know which line was changed
        has to get past it.

        Raises:
            OddFileError: it is cut off, or longer than it says.
        """
        info = self._infos[name]
        left = info.file_size
        for chunk in _unpacked(self._handle, info):
            left -= len(chunk)
            if left < 0:
                raise OddFileError(f"{name} is longer than it says")
            yield chunk
        if left:
            raise OddFileError(f"{name} is cut off")

    def lines(self, name: str, longest: int) -> Iterator[tuple[int, bytes]]:
        """Yield (number, line without its end) of a text member; the last line needs its end too.

        Raises:
            OddFileError: a line is too long, or the last has no end.
        """
        number, rest = 0, b""
        for chunk in self.chunks(name):
            *whole, rest = (rest + chunk).split(b"\n")
            for line in whole:
                number += 1
                yield number, line
            if len(rest) > longest:
                raise OddFileError(f"{name}, line {number + 1}: it is longer than {longest} bytes")
        if rest:
            raise OddFileError(f"{name}, line {number + 1}: it has no end of line")

    def _look(self, bound: Callable[[str], int | None]) -> dict[str, zipfile.ZipInfo]:
        if os.fstat(self._handle.fileno()).st_size > MOST_BYTES:
            raise OddFileError("it is larger than 4 GB")
        with zipfile.ZipFile(self._handle) as read:
            infos = read.infolist()
        if len(infos) > _MOST_MEMBERS:
            raise OddFileError(f"it holds more than {_MOST_MEMBERS} members")
        found: dict[str, zipfile.ZipInfo] = {}
        for info in infos:
            _refuse(info, bound(info.filename))
            if info.filename in found:
                raise OddFileError(f"it holds {info.filename} twice")
            found[info.filename] = info
        return found

    def _is_repacked(self) -> bool:
        """Compare every byte between the members with what `pack` writes."""
        at, directory = 0, b""
        for name, info in self._infos.items():
            plain = _info(name, info.file_size)
            plain.CRC, plain.compress_size, plain.header_offset = info.CRC, info.file_size, at
            header = plain.FileHeader(zip64=False)
            self._handle.seek(at)
            if self._handle.read(len(header)) != header or info.header_offset != at:
                return True
            at += len(header) + info.file_size
            directory += _entry(plain)
        end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, *(len(self._infos),) * 2, len(directory), at, 0)
        self._handle.seek(at)
        return self._handle.read(len(directory) + len(end) + 1) != directory + end


def _entry(info: zipfile.ZipInfo) -> bytes:
    """The line of a member in the zip's directory (APPNOTE 4.3.12), as `pack` writes it."""
    name = info.filename.encode()
    return struct.pack(
        "<4s4B4HL2L5H2L", b"PK\x01\x02", info.create_version, info.create_system, info.extract_version, 0,
        info.flag_bits, 0, 0, (1 << 5) | 1, info.CRC, info.file_size, info.file_size, len(name), 0, 0, 0, 0,
        info.external_attr, info.header_offset,
    ) + name  # fmt: skip


def _refuse(info: zipfile.ZipInfo, most: int | None) -> None:
    name = info.filename
    if name.startswith("/") or "\\" in info.orig_filename or ":" in name or ".." in name.split("/"):
        raise OddFileError(f"it holds the name {name[:60]!r}, which leads out of a folder")
    if most is None or name != info.orig_filename:
        raise OddFileError(f"it holds {name[:60]!r}, which does not belong in it")
    if info.file_size > most:
        raise OddFileError(f"{name} is larger than {most} bytes")
    if info.flag_bits & 0x1 or info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise OddFileError(f"{name} is encrypted or packed in a way that is not read here")
    if stat.S_IFMT(info.external_attr >> 16) not in (0, stat.S_IFREG) and info.create_system == _UNIX:
        raise OddFileError(f"{name} is no plain file")
    if info.file_size > _SMALL and info.file_size > _SWELLS * max(1, info.compress_size):
        raise OddFileError(f"{name} would swell from {info.compress_size} to {info.file_size} bytes")


def _unpacked(handle: BinaryIO, info: zipfile.ZipInfo) -> Iterator[bytes]:
    handle.seek(info.header_offset)
    header = handle.read(_LOCAL_HEADER)
    if len(header) != _LOCAL_HEADER or header[:4] != b"PK\x03\x04":
        raise OddFileError(f"{info.filename} has no head")
    names, extra = struct.unpack("<2H", header[26:])
    if handle.read(names) != info.orig_filename.encode():
        raise OddFileError(f"{info.filename} goes by two names")
    at, left = handle.tell() + extra, info.compress_size
    packed = None if info.compress_type == zipfile.ZIP_STORED else zlib.decompressobj(-15)
    while left:
        handle.seek(at)  # another member may have been read in between
        raw = handle.read(min(_CHUNK, left))
        if not raw:
            return
        at, left = at + len(raw), left - len(raw)
        yield from _inflated(packed, raw) if packed else (raw,)


def _inflated(packed: zlib._Decompress, raw: bytes) -> Iterator[bytes]:
    try:
        while raw:
            yield packed.decompress(raw, _CHUNK)
            raw = packed.unconsumed_tail
    except zlib.error as error:
        raise OddFileError("a member cannot be unpacked") from error
