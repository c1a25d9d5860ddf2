"""Records are taken out of the user's own CSV files, and no other byte is."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.names.workspace_csv import read_table, without_rows


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_records_go_whole_and_all_else_stays(tmp_path: Path, end: str) -> None:
    lines = [
        "\ufeffclient;day;note",
        "# wren: mornings",
        "ines;2026-07-01;plain",
        "",
        'wren;2026-07-02;"two',
        'lines; and \u2028 a mark"',
        "kofi;2026-07-03;last",
    ]
    path = tmp_path / "own.csv"
    path.write_bytes(end.join(lines).encode())
    starts = {cells["client"]: line for line, cells in read_table(path, ("client",)).rows}
    assert starts == {"ines": 3, "wren": 5, "kofi": 7}
    assert without_rows(path, [5]) == end.join([*lines[:4], lines[6]])
    assert without_rows(path, [3, 7]) == end.join([*lines[:2], *lines[3:6], ""])
    assert without_rows(path, []) == end.join(lines)
