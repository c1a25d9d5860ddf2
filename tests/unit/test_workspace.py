"""setledger.toml: what it says, and what it says wrongly."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pipeline.errors import ConfigError
from pipeline.rules import Rules
from pipeline.workspace import find_workspace, parse_workspace, source_files


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
        ("[[clients]]\nid = 'a'\nphases = [{kind = 'bulk', from = 2026-01-01}]", "is no phase"),
        ("[[clients]]\nid = 'a'\nname = \"A\\nBcc: x\"", "line break"),
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
    workspace = find_workspace(root)
    with pytest.raises(ConfigError, match="leads out of the workspace"):
        source_files(workspace, workspace.sources[0])
