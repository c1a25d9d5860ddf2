"""setledger.toml: what it says, and what it says wrongly."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pipeline.errors import ConfigError
from pipeline.reading.export_files import files_of
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Waived
from pipeline.settings.workspace_file import find_workspace, parse_workspace


def parsed(text: str, root: Path = Path()) -> object:
    return parse_workspace(text, root)


def test_a_client_is_read_with_everything_that_can_be_said_of_one() -> None:
    workspace = parse_workspace(
        """
        [workspace]
        name = "Harbour Lane"
        as_of = 2026-08-30
        [[clients]]
        id = "ines"
        aliases = ["Ines D."]
        units = "lb"
        bring_up = ["upper_back"]
        targets = [{ exercise = "bench press", load = 100.0, reps = 5 }]
        changes = [{ on = 2026-06-01, note = "one more rest day" }]
        phases = [{ kind = "cut", from = 2026-05-01, to = 2026-06-01 }]
        guide = { side_delts = { week = [8, 20] } }
        waived = [{ code = "rest" }, { code = "return", until = 2026-09-20, why = "is back" }]
        [rules]
        hard_rir = 2
        """,
        Path("here"),
    )
    (client,) = workspace.clients
    assert workspace.as_of == date(2026, 8, 30)
    assert client.targets[0].load_kg == pytest.approx(45.359237, abs=1e-12)  # 100 lb, exactly
    assert client.changes[0].changed_on == date(2026, 6, 1)
    assert client.phases[0].kind == "cut"
    assert client.waived == (
        Waived("rest"),
        Waived("return", until_on=date(2026, 9, 20), why="is back"),
    )
    assert client.guide[0].week == (8.0, 20.0)
    assert workspace.rules == Rules(hard_rir=2.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[workspace]\ntimzone = 'x'", "setledger.toml:2: [workspace] timzone: this key is unknown;"
         " did you mean 'timezone'?"),
        ("[workspace]\ntimezone = 'Lisboa'", "'Lisboa' is no known time zone"),
        ("[[clients]]\nid = 'Ines D'", "'Ines D' is no id"),
        ("[[clients]]\nid = 'a'\n[[clients]]\nid = 'a'", "two [[clients]] claim 'a'"),
        ("[[clients]]\nid = 'a'\n[[clients]]\nid = 'b'\naliases = ['A']", "claim 'a'"),
        ("[[sources]]\nfiles = '../x.csv'\nmapping = 'm.toml'", "leads out of the workspace"),
        ("[[sources]]\nmapping = 'm.toml'", "lacks 'files'"),
        ("[rules]\nhard_rirr = 2", "did you mean 'hard_rir'?"),
        ("[rules]\nreference_days = 4.5", "is no whole number"),
        ("[rules]\nhard_rir = -1", "is negative"),
        ("[[clients]]\nid = 'a'\nchanges = [{on = 2026-01-01, note = 'n', code = 'volum'}]",
         "changes code: 'volum' is no finding; did you mean volume?"),
        ("[[clients]]\nid = 'a'\nchanges = [{on = 2026-01-01, note = 'n', subject = 'chest'}]",
         "changes subject: it stands without a code; name the finding, too."),
        ("[[clients]]\nid = 'a'\nphases = [{kind = 'bulk', from = 2026-01-01}]", "is no phase"),
        ("[[clients]]\nid = 'a'\nname = \"A\\nBcc: x\"", "line break"),
        ("[[clients]]\nid = 'a'\nwaived = [{code = 'volum'}]",
         "waived code: 'volum' is no finding; did you mean volume?"),
        ("[[clients]]\nid = 'a'\nwaived = [{code = 'pain_note', why = 'x'}]", "waived until"),
        ("[[clients]]\nid = 'a'\nwaived = [{code = 'return', until = 2026-01-01}]", "waived why"),
        ("[mail]\nhost = 'h'\nfrom = 'f'\nsecurity = 'ssl'", "'ssl' is not known"),
        ("[workspace\n", "not valid TOML"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_its_place_and_how_to_mend_it(text: str, said: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_workspace(text, Path("here"))
    assert said in str(caught.value)


def test_a_link_out_of_the_workspace_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.csv").write_text("x", encoding="utf-8")
    root = tmp_path / "own"
    (root / "exports").mkdir(parents=True)
    (root / "exports" / "log.csv").symlink_to(tmp_path / "secret.csv")
    (root / "setledger.toml").write_text(
        '[[sources]]\nfiles = "exports/*.csv"\nmapping = "m.toml"\n', encoding="utf-8"
    )
    (root / "exports" / "own.csv").write_text("x", encoding="utf-8")
    workspace = find_workspace(root)
    found, refused = files_of(workspace, workspace.sources[0])
    assert [path.name for path in found] == ["own.csv"]
    assert [str(error) for error in refused] == [
        "exports/log.csv: leads out of the workspace; copy the file into exports/ instead of "
        "linking it."
    ]


def many(**changed: str) -> str:
    """200 clients, one of them with other lines; each block is 11 lines long."""
    blocks = []
    for place in range(200):
        block = f"""[[clients]]
id = "client-{place}"
name = "Client {place}"
email = "client-{place}@example.org"
units = "kg"
[[clients.targets]]
exercise = "back squat"
load = 100
reps = 5
[clients.guide]
chest = {{ week = [8, 16] }}
"""
        blocks.append(block)
    place = 150
    for old, new in changed.items():
        assert CHANGES[old] in blocks[place]
        blocks[place] = blocks[place].replace(CHANGES[old], new)
    return "".join(blocks)


CHANGES = {
    "id": 'id = "client-150"',
    "units": 'units = "kg"',
    "reps": "reps = 5",
    "guide": "week = [8, 16]",
    "exercise": 'exercise = "back squat"',
}
FIRST = 150 * 11 + 1


@pytest.mark.parametrize(
    ("key", "new", "said"),
    [
        ("units", 'units = "stone"', f"setledger.toml:{FIRST + 4}: [[clients]] client-150: units:"),
        ("units", 'unit = "kg"', f"setledger.toml:{FIRST + 4}: [[clients]] unit: this key is"
         " unknown; did you mean 'units'?"),
        ("reps", "reps = 0", f"setledger.toml:{FIRST + 8}: [[clients]] client-150: targets reps:"),
        ("guide", "weeks = [8, 16]", f"setledger.toml:{FIRST + 10}: [[clients]] client-150: guide"
         " chest weeks: this key is unknown; did you mean 'week'?"),
        ("exercise", "", f"setledger.toml:{FIRST}: [[clients]] client-150: targets lacks"
         " 'exercise'"),
        ("id", 'id = "client-7"', f"setledger.toml:{FIRST}: two [[clients]] claim 'client-7', this"
         " and the one of line 78;"),
    ],
)  # fmt: skip
def test_among_200_clients_a_mistake_is_named_with_its_own_line(
    key: str, new: str, said: str
) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_workspace(many(**{key: new}), Path("here"))
    assert str(caught.value).replace(" :", ":").startswith(said)


def test_200_clients_without_a_mistake_are_read() -> None:
    assert len(parse_workspace(many(), Path("here")).clients) == 200
