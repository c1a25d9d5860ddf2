"""setledger.toml edited: a block stands where a person would put it, and no other byte moves."""

from __future__ import annotations

import tomllib
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import ConfigError, UsageError
from pipeline.resources import resource
from pipeline.settings import edit
from pipeline.settings.edit import Edit
from tests.conftest import examples

CHANGE: dict[str, Any] = {"on": date(2026, 9, 1), "note": 'one "rest day" more'}
BLOCK = '[[clients.changes]]\non = 2026-09-01\nnote = "one \\"rest day\\" more"\n'

ROOM = """\
# Harbour Lane
[workspace]
name = "Harbour Lane"   # ours

[[clients]]
id = "ines"  # since 2019
# email = "ines@example.org"

  # the quiet one
[[clients]]
id = 'kofi'
aliases = [
    "K. A.",   # on the phone

]
[[clients.changes]]
on = 2026-06-01
note = '''
[[clients]]
'''
[clients.guide]
lats = { week = [8, 16] }

# Thresholds
[rules]
hard_rir = 3

[[clients]]
id = "wren"
until = 2026-12-31   # moves away
# the end
"""


def put_in(done: Edit, text: str, block: str, after: str, gap: int = 1) -> None:
    """The block stands after a line, `gap` blank lines between, and is all that is new."""
    new = done.text.split("\n")
    at = done.line - 1
    assert done.text.split("\n")[at : at + block.count("\n")] == block.split("\n")[:-1]
    assert new[at - 1 - gap] == after
    assert done.block == block
    rest = new[:at] + new[at + block.count("\n") :]
    assert [line for line in rest if line.strip()] == [
        line for line in text.split("\n") if line.strip()
    ]


@pytest.mark.parametrize(
    ("client_id", "after", "gap"),
    [
        ("ines", '# email = "ines@example.org"', 1),
        ("kofi", "'''", 1),
        ("wren", "# the end", 1),
    ],
)
def test_a_change_stands_with_its_client_and_before_the_comment_of_what_follows(
    client_id: str, after: str, gap: int
) -> None:
    put_in(edit.with_entry(ROOM, client_id, "changes", CHANGE), ROOM, BLOCK, after, gap)


def test_a_client_stands_after_the_last_one() -> None:
    done = edit.with_client(ROOM, {"id": "nina", "name": "Nina Voß"})
    put_in(done, ROOM, '[[clients]]\nid = "nina"\nname = "Nina Voß"\n', "# the end")


def test_the_first_client_stands_at_the_end_of_a_file_of_comments() -> None:
    text = '[workspace]\nname = "x"\n\n# [[clients]]\n# id = "ines"\n'
    assert edit.with_client(text, {"id": "nina"}).text == text + '\n[[clients]]\nid = "nina"\n'


def test_a_last_day_is_put_in_or_replaced_and_its_comment_stays() -> None:
    until = date(2027, 1, 31)
    assert edit.with_key(ROOM, "wren", "until", until).text == ROOM.replace(
        "until = 2026-12-31", "until = 2027-01-31"
    )
    assert edit.with_key(ROOM, "ines", "until", until).text == ROOM.replace(
        '# email = "ines@example.org"\n', '# email = "ines@example.org"\nuntil = 2027-01-31\n'
    )


@pytest.mark.parametrize(
    ("text", "new"),
    [
        (
            'clients = [{ id = "ines" }, { id = "kofi" }] # both\n',
            'clients = [{ id = "ines" , changes = [{on = 2026-09-01, note = "one \\"rest day\\"'
            ' more"}]}, { id = "kofi" }] # both\n',
        ),
        (
            '[[clients]]\nid = "ines"\nchanges = [\n  {on = 2026-06-01, note = "x"}, # one\n]\n',
            '[[clients]]\nid = "ines"\nchanges = [\n  {on = 2026-06-01, note = "x"}, # one\n'
            '  {on = 2026-09-01, note = "one \\"rest day\\" more"},\n]\n',
        ),
    ],
)
def test_lists_in_one_line_are_added_to_as_they_are(text: str, new: str) -> None:
    done = edit.with_entry(text, "ines", "changes", CHANGE)
    assert tomllib.loads(done.text) == tomllib.loads(new)
    kept = text.replace("}, {", "}\n{").split("\n")
    assert all(line.strip(" {}[]") in done.text for line in kept)


def test_line_ends_are_those_of_the_file() -> None:
    text = ROOM.replace("\n", "\r\n")
    done = edit.with_entry(text.removesuffix("\r\n"), "wren", "changes", CHANGE)
    assert done.text == text + "\r\n" + BLOCK.replace("\n", "\r\n")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (  # tables that stand apart and are not found by their plain name
            "[['clients']]\nid = 'kofi'\n[rules]\nhard_rir = 3\n[['clients']]\nid = 'ines'\n",
            "in a way in which a command cannot put this in",
        ),
        ("[[clients]]\nid = 'ines'\naliases = ['N.']\n[[clients]]\nid = 'n.'", "is no id"),
    ],
)
def test_what_cannot_be_done_is_refused(text: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        edit.with_entry(text, "ines", "changes", CHANGE)


@pytest.mark.parametrize("mark", ["\x85", "\u2028", "\x0c"])
def test_a_mark_that_ends_no_line_of_toml_ends_none_here(mark: str) -> None:
    note = f"rest{mark}day"
    once = edit.with_entry(ROOM, "ines", "changes", CHANGE | {"note": note}).text
    twice = edit.with_entry(once, "kofi", "changes", CHANGE).text
    clients = tomllib.loads(twice)["clients"]
    assert [each["changes"][-1]["note"] for each in clients[:2]] == [note, CHANGE["note"]]


def test_what_the_file_says_already_is_said() -> None:
    with pytest.raises(UsageError, match="says so already"):
        edit.with_key(ROOM, "wren", "until", date(2026, 12, 31))


def test_what_the_file_may_not_say_is_refused() -> None:
    with pytest.raises(ConfigError, match=r"claim 'kofi'.* Nothing was written\."):
        edit.with_client(ROOM, {"id": "nina", "aliases": ["Kofi"]})
    with pytest.raises(ConfigError, match=r"line break or control.* Nothing was written\."):
        edit.with_client(ROOM, {"id": "nina", "name": "N\nV"})


SAMPLE = (resource("sample_exports") / "setledger.toml").read_text(encoding="utf-8")
CLIENTS = [each["id"] for each in tomllib.loads(SAMPLE)["clients"]]


@settings(max_examples=examples(200), deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(CLIENTS),
            st.text(min_size=1).filter(lambda text: text.strip()),
            st.dates(),
            st.sampled_from(["changes", "waived", "until"]),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_whatever_is_written_is_read_again_and_all_other_lines_stay(
    wishes: list[tuple[str, str, date, str]],
) -> None:
    text, wanted = SAMPLE, tomllib.loads(SAMPLE)
    for client_id, note, on, kind in wishes:
        before = text.split("\n")
        of_client = next(each for each in wanted["clients"] if each["id"] == client_id)
        if kind == "until":
            if of_client.get("until") == on:
                continue
            done = edit.with_key(text, client_id, "until", on)
            before = [line for line in before if not line.startswith("until = ")]
            of_client["until"] = on
        else:
            fields = (
                {"on": on, "note": note} if kind == "changes" else {"code": "rest", "why": note}
            )
            done = edit.with_entry(text, client_id, kind, fields)
            of_client.setdefault(kind, []).append(fields)
        text = done.text
        assert tomllib.loads(text) == wanted
        left = iter(text.split("\n"))
        assert all(line in left for line in before)
