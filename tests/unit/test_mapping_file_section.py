"""[file] and [values] of a mapping: what cannot be is refused with its key."""

from __future__ import annotations

import pytest

from pipeline.errors import ConfigError
from pipeline.settings.mapping_file import parse_mapping

COLUMNS = '[columns]\nperformed_on = "day"\nexercise = "lift"\nreps = "reps"\n'


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ('[file]\ndelimiter = "§"', r"\[file\] delimiter must be an ASCII"),
        ('[file]\ndelimiter = "\\n"', r"\[file\] delimiter must be"),
        ('[file]\ndelimiter = ";;"', r"\[file\] delimiter must be one character"),
        ('[file]\nquote = "„"', r"\[file\] quote must be an ASCII"),
        ('[file]\nquote = ";"\ndelimiter = ";"', "quote and delimiter are the same"),
        ('[file]\ndecimal = ","\ndelimiter = ","', "decimal and delimiter are the same"),
        ('[file]\ndecimal = "x"', r"\[file\] decimal must be"),
        ('[file]\ndecimal = ","\nthousands = ","', "decimal and thousands are the same"),
        ('[file]\nskip_rows = -1', r"\[file\] skip_rows"),
        ('[file]\nskip_rows = true', r"\[file\] skip_rows"),
        ('[file]\nheader = "no"', r"\[file\] header"),
        ('[values.set_kind]\nW = "warm"', r"\[values.set_kind\] 'W' = 'warm' is not known"),
        ('[values.load_unit]\nk = "kilo"', r"\[values.load_unit\] 'k' = 'kilo'.*kg, lb"),
        ('[formats]\nloadunit = "kg"', r"\[formats\] loadunit: .*did you mean 'load_unit'\?"),
        ('[constants]\nreps = ["5"]', r"\[constants\] reps: this is no text"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_key(section: str, said: str) -> None:
    with pytest.raises(ConfigError, match=rf"log\.toml:6: .*{said}"):
        parse_mapping(f"{COLUMNS}{section}\n", "log.toml")


def test_a_truth_may_be_written_as_toml_has_it() -> None:
    mapping = parse_mapping(f"{COLUMNS}[values.to_failure]\nok = false\n", "log.toml")
    assert mapping.values["to_failure"] == {"ok": "false"}
