"""The page of promises names tests that are there."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).parents[1]
NAMED = re.compile(r"`([\w/]+\.py)::(test_\w+)`")


def test_each_promise_names_tests_and_each_of_them_is_there() -> None:
    page = (TESTS / "README.md").read_text(encoding="utf-8")
    section = page.split("\n## Promises\n")[1].split("\n## ")[0]
    rows = [line for line in section.splitlines() if line.startswith("| ")][2:]
    assert len(rows) > 10
    for row in rows:
        named = NAMED.findall(row)
        assert named, row
        for path, test in named:
            text = (TESTS / path).read_text(encoding="utf-8")
            assert f"\ndef {test}(" in text, f"{path}::{test}"
