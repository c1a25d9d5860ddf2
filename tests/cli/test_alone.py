"""The demo needs nothing but its workspace: no network, no home, no file elsewhere."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.cli.test_ordinary_user import POWERLESS

ROOT = Path(__file__).parents[2]
HOOK = """
import json, os, sys
told = os.environ["HOOK_TOLD"]
def tell(*what):
    with open(told, "a") as file:
        file.write(json.dumps(what) + "\\n")
def seen(event, given):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.sendto"):
        tell(event, str(given[1:]))
        raise ConnectionRefusedError("no network here")
    if event == "open" and isinstance(given[0], str) and given[0] != told:
        if given[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            tell("write", os.path.abspath(given[0]))
    if event in ("os.rename", "os.mkdir", "os.remove") and isinstance(given[0], (str, os.PathLike)):
        tell("write", os.path.abspath(given[0]))
sys.addaudithook(seen)
"""
"""In every Python process of the command: refuses connections, notes what is written."""


def test_the_demo_touches_neither_network_nor_home_nor_other_files(tmp_path: Path) -> None:
    home, hook, told = tmp_path / "home", tmp_path / "hook", tmp_path / "told"
    for folder in (home, hook, tmp_path / "place"):
        folder.mkdir()
    (hook / "sitecustomize.py").write_text(HOOK, encoding="utf-8")
    home.chmod(0o500)
    command = [sys.executable, "-c", "from pipeline.cli import main; main()", "demo", "club"]
    if os.geteuid() == 0 and shutil.which(POWERLESS[0]):
        command = POWERLESS + command
    environment = {
        "PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONPATH": f"{hook}{os.pathsep}{ROOT}", "HOME": str(home), "HOOK_TOLD": str(told),
    }  # fmt: skip
    done = subprocess.run(
        command, cwd=tmp_path / "place", env=environment, capture_output=True, text=True
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert list(home.iterdir()) == []
    assert [path.name for path in (tmp_path / "place").iterdir()] == ["club"]
    noted = [json.loads(line) for line in told.read_text(encoding="utf-8").splitlines()]
    assert [each for each in noted if each[0] != "write"] == []
    written = {path for _, path in noted}
    inside = {path for path in written if path.startswith(str(tmp_path / "place/club"))}
    assert len(inside) > 20, "the hook sees what is written"
    assert written - inside <= {"/dev/null"}
