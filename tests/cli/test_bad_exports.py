"""Bad files among good ones, as a user meets them: a sentence each, the good ones loaded."""

from __future__ import annotations

import gzip
import json
import os
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import ExportError
from pipeline.reading import export_files

HEADER = "date,exercise,kg,reps\n"
LINES = "".join(f"2026-03-{day:02},Bench Press,80,{5 + day % 5}\n" for day in range(1, 28))
GOOD = HEADER + LINES
MAPPING = (
    'name = "{name}"\n[columns]\nperformed_on = "date"\nexercise = "exercise"\nload = "kg"\n'
    'reps = "reps"\n[formats]\nload_unit = "kg"\n[constants]\nclient = "c-{name}"\n'
)

REFUSED: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "exports/empty.csv: the file is empty."),
    "blank": (b"\n \n\n", "exports/blank.csv: the file is empty."),
    "zipped": (gzip.compress(GOOD.encode()), "exports/zipped.csv: this is a gzip archive"),
    "workbook": (b"PK\x03\x04" + b"\0" * 200, "this is a zip archive or a spreadsheet workbook"),
    "pdf": (b"%PDF-1.7\n...", "exports/pdf.csv: this is a PDF"),
    "others": (b"a,b,c\n1,2,3\n", "exports/others.csv has no such column (found: a, b, c)"),
    "twice": (
        GOOD.replace("kg,reps", "kg,reps,reps").replace("\n2026", ",9\n2026").encode(),
        "exports/twice.csv has 2 columns of that name; write 'reps_1' or 'reps_2'",
    ),
    "page": (b"<!DOCTYPE html><html>log in</html>", "exports/page.csv has no such column"),
}
"""Content that gives no set, and its sentence."""

READ: dict[str, tuple[bytes, int, int]] = {
    "good": (GOOD.encode(), 27, 0),
    "header": (HEADER.encode(), 0, 0),
    "nul": ((GOOD + "2026-04-01,Bench\0Press,80,8\n").encode(), 27, 1),
    "long": ((GOOD + f"2026-04-01,{'x' * 1_000_000},80,8\n").encode(), 27, 1),
    "broad": (
        (HEADER[:-1] + "," + ",".join(f"c{n}" for n in range(10_000)) + "\n" + LINES).encode(),
        27,
        0,
    ),
    "ragged": ((GOOD + "2026-04-01,Dip\n2026-04-02,Dip,80,8,9\n").encode(), 27, 2),
    "ends": ((HEADER[:-1] + "\r\n" + LINES.replace("\n", "\r", 3)).encode(), 27, 0),
    "carriage": (GOOD.replace("\n", "\r").encode(), 27, 0),
    "newlines": (GOOD.replace("Bench Press", '"Bench\nPress"').encode(), 27, 0),
    "unclosed": (
        (HEADER + '2026-04-01,"Bench Press,80,8\n' + LINES).encode(),
        27,
        1,
    ),
    "damaged": (GOOD.encode() + b"2026-04-01,Dr\xfccken,80,8\n", 28, 0),
}
"""Content with its sets and the lines that are set aside."""


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace with a source for each file, the unreadable kinds of files among them."""
    folder = tmp_path_factory.mktemp("room") / "room"
    (folder / "exports").mkdir(parents=True)
    (folder / "mappings").mkdir()
    exports = folder / "exports"
    contents = {name: data for name, (data, *_) in (REFUSED | READ).items()}
    for name, data in contents.items():
        (exports / f"{name}.csv").write_bytes(data)
    (exports / "folder.csv").mkdir()
    os.mkfifo(exports / "pipe.csv")
    outside = folder.parent / "outside.csv"
    outside.write_text(GOOD, encoding="utf-8")
    (exports / "link.csv").symlink_to(outside)
    config = ['[workspace]\nname = "Room"\n']
    for name in (*contents, "folder", "pipe", "link", "vanished"):
        mapping = MAPPING.format(name=name)
        (folder / "mappings" / f"{name}.toml").write_text(mapping, encoding="utf-8")
        config.append(
            f'[[sources]]\nfiles = "exports/{name}.csv"\nmapping = "mappings/{name}.toml"\n'
        )
    (folder / "setledger.toml").write_text("\n".join(config), encoding="utf-8")
    return folder


def test_each_bad_file_gets_its_sentence_and_the_others_are_loaded(
    room: Path, setledger: Any
) -> None:
    done = setledger("load", cwd=room)
    assert done.returncode == 1
    said = done.stderr
    assert "Traceback" not in said
    sentences = {name: words for name, (_, words) in REFUSED.items()} | {
        "folder": "exports/folder.csv: this is a folder",
        "pipe": "exports/pipe.csv: this is a pipe or a device",
        "link": "exports/link.csv: leads out of the workspace",
    }
    lines = said.splitlines()
    for words in sentences.values():
        assert sum(words in line for line in lines) == 1, words
    assert all(len(line) < 400 for line in lines)
    asked = setledger(
        "query",
        "--json",
        "select path, sets_loaded, lines_set_aside, lines_read = lines_loaded + lines_set_aside "
        "as adds_up from ledger.loads order by path",
        cwd=room,
    )
    rows = {
        Path(row["path"]).stem: (row["sets_loaded"], row["lines_set_aside"], row["adds_up"])
        for row in json.loads(asked.stdout)
    }
    assert rows == {name: (sets, aside, True) for name, (_, sets, aside) in READ.items()}


def test_with_nothing_readable_nothing_is_changed(tmp_path: Path, setledger: Any) -> None:
    (tmp_path / "exports").mkdir()
    (tmp_path / "mappings").mkdir()
    (tmp_path / "exports" / "zipped.csv").write_bytes(gzip.compress(GOOD.encode()))
    (tmp_path / "mappings" / "log.toml").write_text(MAPPING.format(name="log"), encoding="utf-8")
    (tmp_path / "setledger.toml").write_text(
        '[[sources]]\nfiles = "exports/*.csv"\nmapping = "mappings/log.toml"\n', encoding="utf-8"
    )
    done = setledger("load", cwd=tmp_path)
    assert done.returncode == 2
    assert "gzip archive" in done.stderr
    assert not (tmp_path / "setledger.duckdb").exists()


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (PermissionError(13, "Permission denied"), "cannot be read (Permission denied)"),
        (FileNotFoundError(2, "gone"), "there is no such file"),
        (OSError(5, "Input/output error"), "cannot be read (Input/output error)"),
    ],
)
def test_a_file_that_cannot_be_opened_or_vanishes_is_named(
    error: OSError, said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def refuses(*_: object) -> int:
        raise error

    (tmp_path / "log.csv").write_text(GOOD, encoding="utf-8")
    monkeypatch.setattr("pipeline.files.os.open", refuses)
    with pytest.raises(ExportError) as caught:
        export_files.content_of(tmp_path / "log.csv", "exports/log.csv")
    assert str(caught.value).startswith(f"exports/log.csv: {said}")
