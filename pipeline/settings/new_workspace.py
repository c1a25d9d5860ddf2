"""New workspaces: an empty, commented one, or the demo of the sample exports."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from pipeline.resources import resource
from pipeline.settings.workspace import CONFIG_NAME


def make_demo(folder: Path) -> None:
    """A workspace from the sample exports in a folder that is new or empty, or a demo already."""
    from pipeline.errors import UsageError

    samples = resource("sample_exports")
    config = (samples / CONFIG_NAME).read_text(encoding="utf-8")
    own = folder / CONFIG_NAME
    if own.exists() and own.read_text(encoding="utf-8") != config:
        raise UsageError(
            f"{folder}: this is a workspace of your own; name another folder for the demo."
        )
    if not own.exists() and folder.exists() and any(folder.iterdir()):
        raise UsageError(f"{folder}: this folder is not empty; name a new one for the demo.")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for name in ("exports", "mappings"):
        shutil.copytree(samples / name, folder / name, dirs_exist_ok=True)
    for path in samples.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copyfile(path, folder / path.name)


_EMPTY_CONFIG = """\
# A setledger workspace. Put everybody's files into exports/, under names that say whose they are
# ("Mara Lind March.csv"), unless a column or a line above the header does; then:
#   setledger draft-mapping exports/*            writes a mapping and a [[sources]] entry a shape
#   setledger run                                loads, builds, and renders out/index.html
# Each month: put the new files beside the old ones, whatever they are called, and run again. A file
# of a shape that is known joins it; one that is not is named with the command that drafts it.

[workspace]
name = {name}
# timezone = "Europe/Lisbon"      # for "today" only; default: the machine's
# as_of = 2026-09-30              # pins the as-of day; default: today
# ignore = ["exports/old/*"]      # files in exports/ that are none, and need not be named

# [[sources]]
# files = "exports/notebook-*.csv"    # a glob, or a list of them
# mapping = "mappings/notebook.toml"

# Without [[clients]] everyone found in the exports is reported with defaults.
# [[clients]]
# id = "ines"                     # a-z, 0-9, hyphens; also the folder name in out/
# aliases = ["Ines D."]           # spellings in exports
# name = "Ines Duarte"
# units = "kg"                    # what the report shows: kg or lb
# bodyweight_kg = 64.0
# bring_up = ["upper_back"]       # muscles to favour
# hold_back = ["chest"]           # muscles already strong
# [[clients.waived]]              # a finding put aside: never first, kept among the data
# code = "rest"                   # also: subject, until, why; health needs until and why

# email = "ines@example.org"      # gets her review by mail; also: mail = false, until = 2026-12-31

# [mail]                          # for `setledger send`; `send --dry-run` needs none of it
# host = "mail.example.org"
# port = 587
# security = "starttls"           # or "tls"; "none" for a server on this machine only
# from = "My Room <room@example.org>"
# coach = "coach@example.org"     # gets the roster
# secrets_file = "smtp.env"       # mode 0600: SETLEDGER_SMTP_USER=…, SETLEDGER_SMTP_PASSWORD=…

# [rules]                         # thresholds of the review; `setledger describe rules` lists them
"""


def make_workspace(folder: Path) -> None:
    """An empty, commented workspace."""
    from pipeline.errors import UsageError

    if (folder / CONFIG_NAME).exists():
        raise UsageError(f"{folder}: there is a {CONFIG_NAME} here already; nothing was changed.")
    for name in ("exports", "mappings"):
        (folder / name).mkdir(mode=0o700, parents=True, exist_ok=True)
    name = json.dumps(folder.resolve().name or "workspace", ensure_ascii=False)
    (folder / CONFIG_NAME).write_text(_EMPTY_CONFIG.format(name=name), encoding="utf-8")
