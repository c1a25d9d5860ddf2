"""Encodings: what is declared by its bytes is exact; code pages are told on a small corpus."""

from __future__ import annotations

import codecs

import pytest

from pipeline.errors import ConfigError, ExportError
from pipeline.reading.encoding import as_utf8, refuse_other_kinds

CORPUS = {
    "German": [
        "31.08.2026;Bankdrücken;82,5;8;saubere Wiederholungen",
        "31.08.2026;Schrägbankdrücken;60;10;für Übung",
        "01.09.2026;Kniebeuge;100;5;größer, Müdigkeit",
    ],
    "Portuguese": [
        "2026-08-31,supino,80,8,última série até à falha",
        "2026-08-31,elevação lateral,10,12,não",
    ],
    "French": [
        "2026-08-31,développé couché,80,8,dernière série à l’échec",
        "2026-08-31,élévations latérales,10,12,",
    ],
    "Spanish": [
        "2026-08-31,press de banca,80,8,última serie",
        "2026-08-31,elevación lateral,10,12,mañana",
    ],
    "Danish": [
        "2026-08-31,bænkpres,80,8,sidste sæt på grænsen",
        "2026-08-31,dødløft,120,5,",
    ],
    "Polish": [
        "2026-08-31,wyciskanie leżąc,80,8,ostatnia seria ciężka",
        "2026-08-31,przysiad ze sztangą,100,5,źle spałem",
    ],
    "Czech": ["2026-08-31,dřep,100,5,těžké", "2026-08-31,tlak na lavici,80,8,poslední série"],
    "Russian": ["2026-08-31,жим лёжа,80,8,последний подход", "2026-08-31,тяга,120,5,тяжело"],
    "Greek": ["2026-08-31,πιέσεις στήθους,80,8,", "2026-08-31,κάθισμα,100,5,βαρύ"],
}
"""Our own lines; what they are encoded in is the expected answer."""

PAGES = [
    *((language, "cp1252") for language in ("German", "Portuguese", "French", "Spanish", "Danish")),
    *((language, "mac-roman") for language in ("Portuguese", "French", "Danish")),
    ("German", "cp850"),
    ("Portuguese", "cp850"),
    ("Polish", "cp1250"),
    ("Polish", "iso8859-2"),
    ("Czech", "cp1250"),
    ("Russian", "cp1251"),
    ("Greek", "cp1253"),
]


@pytest.mark.parametrize(("language", "page"), PAGES)
def test_the_code_page_of_a_language_is_found_from_a_few_words(language: str, page: str) -> None:
    text = "date,lift,load\n" + "\n".join(CORPUS[language])
    content, _, damaged = as_utf8(text.encode(page), None, "log.csv")
    assert (content.decode(), damaged) == (text, False)


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", b""),
        ("utf-8", codecs.BOM_UTF8),
        ("utf-16-le", codecs.BOM_UTF16_LE),
        ("utf-16-be", codecs.BOM_UTF16_BE),
        ("utf-16-le", b""),
        ("utf-16-be", b""),
    ],
)
def test_unicode_is_read_with_and_without_a_byte_order_mark(encoding: str, mark: bytes) -> None:
    text = "Datum;Übung;kg\n2026-08-31;Bankdrücken;80\n"
    content, _, damaged = as_utf8(mark + text.encode(encoding), None, "log.csv")
    assert (content.decode(), damaged) == (text, False)


def test_a_few_damaged_bytes_do_not_make_a_utf8_file_another_encoding() -> None:
    text = "\n".join(CORPUS["German"] * 10)
    content, encoding, damaged = as_utf8(text.encode() + b"\n\xfc", None, "log.csv")
    assert (encoding, damaged) == ("utf-8", True)
    assert content.decode() == text + "\n\ufffd"


def test_the_encoding_of_the_mapping_wins() -> None:
    content, encoding, _ = as_utf8("ł".encode("iso8859-2"), "latin2", "log.csv")
    assert (content.decode(), encoding) == ("ł", "iso8859-2")


def test_an_unknown_encoding_names_the_key() -> None:
    with pytest.raises(ConfigError, match=r"\[file\] encoding = 'utf-9'"):
        as_utf8(b"a", "utf-9", "log.csv")


@pytest.mark.parametrize("given", ["zlib", "rot13", "hex"])
def test_a_codec_that_is_no_encoding_is_refused(given: str) -> None:
    with pytest.raises(ConfigError, match="encoding"):
        as_utf8(b"a", given, "log.csv")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"\x1f\x8b\x08\x00rest", "gzip"),
        (b"PK\x03\x04rest", "zip archive or a spreadsheet"),
        (b"%PDF-1.7", "PDF"),
        (b"SQLite format 3\x00", "database"),
    ],
)
def test_other_kinds_of_file_are_named(data: bytes, said: str) -> None:
    with pytest.raises(ExportError, match=said):
        refuse_other_kinds(data, "log.csv")


def test_binary_is_no_text() -> None:
    with pytest.raises(ExportError, match=r"log\.csv: this is not text"):
        as_utf8(bytes(range(256)) * 4, None, "log.csv")
