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
            raise ExportError(f"{shown}: this is {kind}, not a CSV file; {_mend(data, kind)}.")


def _mend(data: bytes, kind: str) -> str:
    """How the table in a file of another kind becomes a CSV file."""
    if "workbook" in kind and (b"xl/" in data or b"content.xml" in data or "old" in kind):
        return (
            "open it in the spreadsheet program, choose File, Save as (or Download), and CSV "
            "(UTF-8), one file for each sheet, and put that into exports/"
        )
    if kind == "a PDF":
        return (
            "ask for the table itself, or copy it into a spreadsheet and save that as CSV (UTF-8) "
            "into exports/"
        )
    return "unpack it, or export it as CSV text"


LONGEST_LINE = 4_000_000
"""Bytes of a line that is read; of a longer one only the beginning is, and it is set aside."""

CUT = "\0\u2026"
"""What ends a line that was cut."""

_SHOWN = 200
"""Bytes of a cut line that are kept."""


def as_utf8(data: bytes, given: str | None, shown: str) -> tuple[bytes, str, bool]:
    """The text as UTF-8 without a byte order mark, its encoding, and whether bytes were lost.

    Lines longer than LONGEST_LINE come cut, before they take memory many times over.
    """
    is_wide = b"\0" in data[:_SHOWN] or data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    if is_wide:
        content, encoding, damaged = _decoded(data, given, shown)
        return _without_long_lines(content), encoding, damaged
    return _decoded(_without_long_lines(data), given, shown)


def _without_long_lines(data: bytes) -> bytes:
    """The bytes with each line that is too long cut; numbers of lines stay."""
    at, kept = 0, 0
    parts: list[bytes] = []
    while len(data) - at > LONGEST_LINE:
        end = max(data.rfind(mark, at, at + LONGEST_LINE + 1) for mark in (b"\n", b"\r"))
        if end < 0:
            ends = (data.find(mark, at) for mark in (b"\n", b"\r"))
            end = min((each for each in ends if each >= 0), default=len(data))
            # quotes go: one that opens here would close in another line
            start = data[at : at + _SHOWN].replace(b'"', b" ").replace(b"'", b" ")
            start = start.decode("utf-8", errors="ignore").encode()
            parts += [data[kept:at], start, CUT.encode()]
            kept = end
        at = end + 1
    return b"".join([*parts, data[kept:]]) if parts else data


def _decoded(data: bytes, given: str | None, shown: str) -> tuple[bytes, str, bool]:
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
        "a".encode(name).decode(name)
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
    sample = sample.rstrip(b"\0")
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
    """UTF-8 if the bytes are, or nearly are; else the code page whose letters make words."""
    try:
        data.decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError:
        pass
    rest = _UTF8_SEQUENCE.sub(b"", data)
    inside = len(_UTF8_SEQUENCE.findall(data))
    stray = len(rest) - len(rest.translate(None, bytes(range(0x80, 0x100))))
    return "utf-8" if inside > 9 * stray else _code_page(data)


_WESTERN = "äöüßéèêëàâáãåçñíìîïóòôõøœæúùûýÿ"
_CENTRAL = "ąćęłńóśźżáčďéěíňřšťúůýžőűöüäôĺľŕăâîşţđß"
_CYRILLIC = "абвгдежзийклмнопрстуфхцчшщъыьэюяёіїєґ"
_GREEK = "αβγδεζηθικλμνξοπρστυφχψωςάέήίόύώϊϋΐΰ"
_SIGNS = set("’‘“”„–—…«»°·½×")
_CODE_PAGES = {
    "cp1252": _WESTERN,
    "cp1250": _CENTRAL,
    "cp1251": _CYRILLIC,
    "cp1253": _GREEK,
    "iso8859-2": _CENTRAL,
    "koi8-r": _CYRILLIC,
    "mac-roman": _WESTERN,
    "cp850": _WESTERN,
}
"""Letters that words of the languages of a code page have; the order decides between equals."""


def _code_page(data: bytes) -> str:
    """The code page in which most bytes above 127 are letters that fit where they stand.

    On a corpus of nine languages (tests/unit/reading/test_encoding.py) this finds more than
    charset-normalizer does, which on few words often takes Western text for something else.
    """
    sample = b" ".join(_NEAR_HIGH.findall(data[:1_000_000]))
    scores = {name: _fit(sample, name, letters) for name, letters in _CODE_PAGES.items()}
    for name in sorted(scores, key=lambda name: -scores[name]):
        try:
            data.decode(name)
            return name
        except UnicodeDecodeError:
            continue
    return "iso8859-1"


_NEAR_HIGH = re.compile(rb"[^\x80-\xff\r\n]?[\x80-\xff]+")


def _fit(sample: bytes, name: str, letters: str) -> int:
    """Letters in place less characters out of place: a capital after a small letter is one."""
    known = set(letters) | set(letters.upper())
    text = sample.decode(name, errors="replace")
    fit = 0
    for before, character in zip(" " + text, text, strict=False):
        if character.isascii():
            continue
        is_in_place = character in known and not (character.isupper() and before.islower())
        is_in_place = is_in_place or (character in "ºª" and before in "nN0123456789")
        fit += 1 if is_in_place else 0 if character in _SIGNS else -1
    return fit
