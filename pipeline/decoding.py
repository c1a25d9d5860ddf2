"""From the bytes of an export to text: what is no text is refused, the encoding is found."""

from __future__ import annotations

import codecs
import re

from pipeline.errors import ConfigError, ExportError

_MAGIC = (
    (b"\x1f\x8b", "a gzip archive"),
    (b"PK\x03\x04", "a zip archive or a spreadsheet workbook"),
    (b"PK\x05\x06", "an empty zip archive"),
    (b"\x28\xb5\x2f\xfd", "a zstd archive"),
    (b"\xfd7zXZ\x00", "an xz archive"),
    (b"BZh", "a bzip2 archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"%PDF-", "a PDF"),
    (b"SQLite format 3\x00", "a database file"),
    (b"PAR1", "a Parquet file"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old spreadsheet workbook"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)


def refuse_other_kinds(data: bytes, shown: str) -> None:
    if not data:
        raise ExportError(f"{shown}: the file is empty.")
    for magic, kind in _MAGIC:
        if data.startswith(magic):
            raise ExportError(f"{shown}: this is {kind}, not a CSV file; export it as CSV text.")


def as_utf8(data: bytes, given: str | None, shown: str) -> tuple[bytes, str, bool]:
    """The text as UTF-8 without a byte order mark, its encoding, and whether bytes were lost."""
    encoding = _checked_encoding(given) if given else _detect_encoding(data, shown)
    if encoding in ("utf-8", "utf-8-sig"):
        content = data.removeprefix(codecs.BOM_UTF8)
        try:
            content.decode("utf-8")
        except UnicodeDecodeError:
            return content.decode("utf-8", errors="replace").encode(), encoding, True
        return content, encoding, False
    try:
        text, damaged = data.decode(encoding), False
    except UnicodeDecodeError:
        text, damaged = data.decode(encoding, errors="replace"), True
    except UnicodeError as error:
        raise ExportError(f"{shown}: cannot be read as {encoding} ({error}).") from error
    return text.removeprefix("\ufeff").encode("utf-8", errors="replace"), encoding, damaged


def _checked_encoding(given: str) -> str:
    try:
        name = codecs.lookup(given).name
        if not isinstance(b"".decode(name), str):
            raise LookupError(given)
    except (LookupError, TypeError, ValueError) as error:
        raise ConfigError(
            f"[file] encoding = {given!r} is not known; utf-8, utf-16 and cp1252 are usual."
        ) from error
    return name


def _detect_encoding(data: bytes, shown: str) -> str:
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if data.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return "utf-32"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    sample = data[:65536]
    wide = _utf16_without_mark(sample)
    if wide:
        return wide
    odd = sum(sample.count(byte) for byte in (*range(1, 9), *range(14, 32)))
    if odd + min(sample.count(0), len(sample) // 3) > len(sample) // 10 + 2:
        raise ExportError(f"{shown}: this is not text; a CSV file was expected.")
    return _eight_bit_or_utf8(data)


def _utf16_without_mark(sample: bytes) -> str | None:
    """UTF-16 by its zero bytes: Latin text has one in every other place."""
    half = len(sample) // 2
    if half < 2:
        return None
    even, odd = sample[0 : 2 * half : 2].count(0), sample[1 : 2 * half : 2].count(0)
    if odd > 0.6 * half and even < 0.05 * half:
        return "utf-16-le"
    if even > 0.6 * half and odd < 0.05 * half:
        return "utf-16-be"
    return None


_UTF8_SEQUENCE = re.compile(
    rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}"
)


def _eight_bit_or_utf8(data: bytes) -> str:
    """UTF-8 if the bytes are, or nearly are; else the Western code page, which reads any byte."""
    try:
        data.decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError:
        pass
    rest = _UTF8_SEQUENCE.sub(b"", data)
    inside = (len(data) - len(rest)) // 2
    stray = len(rest) - len(rest.translate(None, bytes(range(0x80, 0x100))))
    if inside > 9 * stray:
        return "utf-8"
    try:
        data.decode("cp1252")
        return "cp1252"
    except UnicodeDecodeError:
        return "iso8859-1"
