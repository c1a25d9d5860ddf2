"""Which files a drafted source is to find."""

from __future__ import annotations

import pytest

from pipeline.drafting.file_globs import globs_for


@pytest.mark.parametrize(
    ("files", "others", "globs"),
    [
        (["exports/mara.csv"], [], ["exports/mara.csv"]),
        (["exports/mara-log-2026-03.csv"], [], ["exports/mara-log-*.csv"]),
        (["exports/mara-03.csv", "exports/mara-04.csv"], [], ["exports/mara-*.csv"]),
        (["exports/März 2026 Jürgen.csv"], [], ["exports/* Jürgen.csv"]),
        (["exports/mara log 3.csv", "exports/tom log 3.csv"], [], ["exports/* log *.csv"]),
        (["exports/log-mara.csv", "exports/log-tom.csv"], [], ["exports/log-*.csv"]),
        (
            ["exports/log-mara.csv", "exports/log-tom.csv"],
            ["exports/log-anna.csv"],
            ["exports/log-mara.csv", "exports/log-tom.csv"],
        ),
        (
            ["exports/mara 03.csv", "exports/tom 03.csv"],
            [],
            ["exports/mara *.csv", "exports/tom *.csv"],
        ),
        (["exports/mara 03.csv"], ["exports/mara 04.csv"], ["exports/mara 03.csv"]),
        (["exports/2026-03.csv"], [], ["exports/2026-03.csv"]),
        (["exports/a [1].csv"], [], ["exports/a [[]*.csv"]),
        (["log.csv"], ["exports/log.csv"], ["log.csv"]),
        (["mara log 3.csv"], ["mara log 3.xlsx"], ["mara log *.csv"]),
    ],
)
def test_a_glob_covers_the_files_to_come_and_no_other(
    files: list[str], others: list[str], globs: list[str]
) -> None:
    assert globs_for(files, others) == globs
