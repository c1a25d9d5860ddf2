"""Every month, unattended: earlier months, overlapping runs, kills, the log, cron's bare world."""

from __future__ import annotations

import json
import os
import pty
import random
import re
import shutil
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest

from tests.commands import COMMAND, Done, run_setledger

CONFIG = """
[workspace]
name = "Night Shift"
[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"
"""
MAPPING = """
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "kg"
reps = "reps"
[formats]
load_unit = "kg"
"""
CLIENTS = ("ines", "kofi", "matthis", "odalys", "petra", "sunniva", "wren", "yusra")
AUGUST = {day: str(1787270400 + (day - 21) * 86400) for day in range(1, 33)}
"""SOURCE_DATE_EPOCH of noon-ish days of August 2026; 32 is the first of September."""


def make_room(folder: Path) -> Path:
    """Eight clients, three weeks each."""
    for name in ("exports", "mappings"):
        (folder / name).mkdir(parents=True)
    (folder / "setledger.toml").write_text(CONFIG, encoding="utf-8")
    (folder / "mappings/log.toml").write_text(MAPPING, encoding="utf-8")
    write_log(folder, range(1, 22))
    return folder


def write_log(folder: Path, days: range) -> None:
    lines = ["who,day,lift,kg,reps"]
    for who in CLIENTS:
        for day in days:
            lines += [f"{who},2026-08-{day:02},{lift},{60 + day},8" for lift in ("squat", "row")]
    (folder / "exports/log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def run(folder: Path, day: int, *words: str) -> Done:
    return run_setledger(
        *(words or ("run",)), "-w", str(folder), cwd=folder, SOURCE_DATE_EPOCH=AUGUST[day]
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_room(tmp_path_factory.mktemp("night") / "room")
    done = run(folder, 22)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    return folder


@pytest.fixture
def room(built: Path, tmp_path: Path) -> Path:
    shutil.copytree(built, tmp_path / "room")
    return tmp_path / "room"


# Months


def test_a_month_that_is_over_stands_beside_the_latest_pages(
    demo: Path, july: Path, tmp_path: Path
) -> None:
    shutil.copytree(july, tmp_path / "club")
    folder = tmp_path / "club"
    latest = (demo / "out/ines/latest.html").read_bytes()
    roster = (demo / "out/index.html").read_bytes()
    assert (folder / "out/ines/latest.html").read_bytes() == latest
    assert (folder / "out/index.html").read_bytes() == roster
    july = (folder / "out/ines/2026-07-31.html").read_text(encoding="utf-8")
    assert "As of Friday, 31 July 2026" in july
    assert "July 2026 against June 2026" in july
    shown = (folder / "out/2026-07-31.html").read_text(encoding="utf-8")
    assert 'href="ines/2026-07-31.html"' in shown
    assert run_setledger("run", "-w", str(folder), cwd=folder).returncode == 0
    for name in ("out/ines/latest.html", "out/index.html"):
        page = (folder / name).read_text(encoding="utf-8")
        assert '<a href="2026-07-31.html">31 July 2026</a>' in page


@pytest.mark.slow
def test_daily_runs_keep_only_the_pages_of_month_ends(room: Path) -> None:
    for day in (23, 24, 31, 32):
        assert run(room, day).returncode == 0
    assert sorted(path.name for path in (room / "out/ines").iterdir()) == [
        ".pages.json", "2026-08-31.html", "evidence.html", "latest.html", "years.html",
    ]  # fmt: skip
    assert sorted(path.name for path in (room / "out").glob("*.html")) == [
        "2026-08-31.html", "index.html",
    ]  # fmt: skip
    assert sorted(path.name for path in (room / ".setledger").iterdir()) == [
        "exports", "format", "loads.jsonl", "lock",
    ]  # fmt: skip


# The log


def test_the_log_has_a_line_a_run_and_a_line_a_client(built: Path) -> None:
    lines = [json.loads(line) for line in (built / "run-log.jsonl").read_text().splitlines()]
    first, *clients = lines
    assert first["kind"] == "run"
    assert (first["exit_code"], first["error"], first["clients"], first["pages"]) == (
        0, None, 8, 3 * 8 + 1,
    )  # fmt: skip
    assert first["loads"] == [
        {"load_id": 1, "path": "exports/log.csv", "state": "loaded", "sets": 336, "set_aside": 0}
    ]
    assert {"load", "check", "build", "publish", "report"} == set(first["seconds"])
    assert [(line["kind"], line["client"], line["outcome"], line["pages"]) for line in clients] == [
        ("client", client, "ok", 3) for client in CLIENTS
    ]
    assert all(line["seconds"] > 0 for line in clients)


def test_a_run_that_fails_is_logged_with_its_reason(room: Path) -> None:
    (room / "exercises.csv").write_text("nonsense\n", encoding="utf-8")
    done = run(room, 24)
    assert done.returncode == 2
    line = json.loads((room / "run-log.jsonl").read_text().splitlines()[-1])
    assert (line["kind"], line["exit_code"]) == ("run", 2)
    assert line["error"] == done.stderr.strip()


@pytest.mark.slow
def test_a_large_log_is_set_aside_once(room: Path) -> None:
    log, aside = room / "run-log.jsonl", room / "run-log.1.jsonl"
    log.write_text("x" * 5_000_001, encoding="utf-8")
    aside.write_text("older", encoding="utf-8")
    run(room, 24)
    assert aside.stat().st_size == 5_000_001
    assert json.loads(log.read_text().splitlines()[0])["kind"] == "run"
    assert log.stat().st_mode & 0o077 == 0


def test_one_client_s_failure_is_told_and_the_others_are_done(room: Path) -> None:
    shutil.rmtree(room / "out/kofi")
    (room / "out/kofi").write_text("in the way", encoding="utf-8")
    done = run(room, 24)
    assert done.returncode == 1
    assert done.stderr.startswith("kofi: this client's page could not be made (FileExistsError")
    lines = [json.loads(line) for line in (room / "run-log.jsonl").read_text().splitlines()]
    outcomes = {line["client"]: line["outcome"] for line in lines[-8:]}
    assert outcomes == dict.fromkeys(CLIENTS, "ok") | {"kofi": "failed"}
    assert "This page could not be made" in (room / "out/index.html").read_text(encoding="utf-8")


# Terminals


def test_the_progress_bar_names_clients_and_shows_on_a_terminal_only(room: Path) -> None:
    ours, theirs = pty.openpty()
    environment = {"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TERM": "xterm",
                   "SOURCE_DATE_EPOCH": AUGUST[24]}  # fmt: skip
    (room / "setledger.toml").write_text(
        CONFIG + "".join(f"[[clients]]\nid = '{each}'\n" for each in CLIENTS[:3]), encoding="utf-8"
    )
    process = subprocess.Popen(
        [COMMAND, "report", "-w", str(room)], env=environment, stdout=subprocess.DEVNULL,
        stderr=theirs,
    )  # fmt: skip
    os.close(theirs)
    shown = b""
    while True:
        try:
            part = os.read(ours, 4096)
        except OSError:  # the terminal is closed with its last writer
            break
        if not part:
            break
        shown += part
    os.close(ours)
    assert process.wait() == 0
    assert b"100%" in shown
    assert all(client.encode() in shown for client in CLIENTS[:3])
    assert run(room, 24, "report").stderr == ""


# Runs that meet, and runs that are cut short


def start(folder: Path, day: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [COMMAND, "run", "-w", str(folder)],
        env={"PATH": "/usr/bin:/bin", "SOURCE_DATE_EPOCH": AUGUST[day]},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


@pytest.mark.slow
def test_the_second_of_two_runs_is_refused_and_the_first_goes_on(room: Path) -> None:
    write_log(room, range(1, 24))
    first = start(room, 24)
    lock = room / ".setledger/work"
    until = time.monotonic() + 60
    while not lock.exists() and first.poll() is None and time.monotonic() < until:
        time.sleep(0.005)
    second = run(room, 24)
    assert (second.returncode, second.stdout) == (3, "")
    assert "another setledger run is going on here" in second.stderr
    assert first.communicate() == ("", "")
    assert first.returncode == 0
    assert run(room, 24).returncode == 0


def pages(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in (folder / "out").rglob("*.html")
    }


@pytest.mark.slow
def test_a_kill_at_random_moments_of_reporting_leaves_whole_pages(
    room: Path, tmp_path: Path
) -> None:
    """kill -9 once the database is published, 0 to 3 seconds later, six times over (seed 11)."""
    chance = random.Random(11)
    calm = tmp_path / "calm"
    shutil.copytree(room, calm)
    for round_ in range(6):
        for each in (room, calm):
            write_log(each, range(1, 23 + round_))
        before = pages(room)
        day = 24 + round_
        database = (room / "setledger.duckdb").stat().st_ino
        running = start(room, day)
        while (room / "setledger.duckdb").stat().st_ino == database and running.poll() is None:
            time.sleep(0.002)
        time.sleep(chance.uniform(0, 3))
        os.killpg(running.pid, signal.SIGKILL)
        running.communicate()
        assert run(calm, day).returncode == 0
        wanted = pages(calm)
        for name, content in pages(room).items():
            assert content in (before.get(name), wanted[name]), (round_, name)
        done = run(room, day)
        assert (done.returncode, done.stderr) == (0, "")
        assert pages(room) == wanted
        assert not list((room / ".setledger").glob("*work*"))


# Cron


@pytest.mark.slow
def test_the_line_for_cron_works_without_a_terminal_or_an_environment(
    room: Path, tmp_path: Path
) -> None:
    """The command of README's crontab line, by /bin/sh with nothing but what cron gives."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    [line] = re.findall(r"^\d+ \d+ \* \* \* (.+)$", readme, re.MULTILINE)
    assert "run" in line
    assert "--send" in line
    line = line.replace("/srv/harbour-lane/.venv/bin/setledger", COMMAND)
    line = line.replace("/srv/harbour-lane", str(room)).replace(" --send", "")
    done = subprocess.run(
        ["/usr/bin/env", "-i", "HOME=/", "LOGNAME=nobody", "SHELL=/bin/sh", "PATH=/usr/bin:/bin",
         f"SOURCE_DATE_EPOCH={AUGUST[24]}", "/bin/sh", "-c", line],
        cwd="/", stdin=subprocess.DEVNULL, capture_output=True, text=True,
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (room / "out/index.html").exists()


def test_the_units_for_systemd_are_sound(tmp_path: Path) -> None:
    """Every unit that DEVELOPERS.md shows, by systemd's own checker."""
    checker = shutil.which("systemd-analyze")
    if checker is None:
        pytest.skip("systemd-analyze is not installed")
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    units = re.findall(r"^# (setledger\.(?:service|timer))\n(.+?)^```", text, re.DOTALL | re.M)
    assert [name for name, _ in units] == ["setledger.service", "setledger.timer"]
    for name, unit in units:
        unit = unit.replace("/srv/harbour-lane/.venv/bin/setledger", COMMAND)
        (tmp_path / name).write_text(unit, encoding="utf-8")
    done: Any = subprocess.run(
        [checker, "verify", "--man=no", str(tmp_path / "setledger.timer"),
         str(tmp_path / "setledger.service")],
        capture_output=True, text=True,
    )  # fmt: skip
    said = [line for line in done.stderr.splitlines() if "setledger." in line]
    assert said == []
    assert done.returncode == 0, done.stderr
