"""Mails through a real SMTP server on this machine: what arrives, what fails, what comes twice."""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from pipeline.errors import BusyError, ConfigError, UsageError
from pipeline.ledger import json_lines
from pipeline.mail import smtp
from pipeline.runs import run as runs
from pipeline.settings.workspace_file import find_workspace
from tests.commands import Done, run_setledger
from tests.mail.conftest import CLIENTS, MONTH, Club, Place, slowly

# the server does not see that the whole line is protected where security is "tls"
pytestmark = pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS:UserWarning")

Open = Callable[..., Place]
ALL = ["ines@example.org", "kofi@example.org", "matthis@xn--bcher-kva.example"]


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_every_client_gets_one_mail_over_one_safe_connection(
    club: Club, open_place: Open, security: str
) -> None:
    place = open_place(security)
    club.write(place.table())
    outcome = club.send()
    assert outcome.problems == []
    assert place.post.recipients == ALL
    assert place.post.users == ["room"], "one login for the batch"
    assert len(place.post.sessions) == 1
    assert club.states() == [
        (client, state) for client in ("ines", "kofi", "matthis") for state in ("sending", "sent")
    ]


def test_a_second_run_sends_nothing_and_forcing_sends_the_same_message_id(
    club: Club, open_place: Open
) -> None:
    place = open_place()
    club.write(place.table())
    club.send()
    assert club.send().problems == []
    assert len(place.post.mails) == 3
    club.send(only=("kofi",), is_forced=True)
    ids = [message["Message-ID"] for _, message in place.post.mails]
    assert (len(ids), len(set(ids)), ids[3]) == (4, 3, ids[1])


def test_another_month_is_another_mail(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table())
    club.send(month="2026-06", only=("ines",))
    club.write(place.table(), CLIENTS.replace("2026-07-31", "2026-08-04"))
    club.send(month=None, only=("ines",))
    subjects = [message["Subject"] for _, message in place.post.mails]
    assert subjects == [
        "Ines Duarte: training review June 2026",
        "Ines Duarte: training review July 2026",
    ]


def test_the_ledger_mirrors_the_book(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table())
    club.send(only=("ines",))
    with duckdb.connect(str(club.folder / "setledger.duckdb"), read_only=True) as con:
        rows = con.execute(
            "select client_id, period, recipient, state, detail, code, subject from ledger.mails"
            " order by state"
        ).fetchall()
    # squats and bench presses alone: the page of that month asks about the back
    first = ("absent", "back")
    assert rows == [
        ("ines", "2026-07", "ines@example.org", "sending", None, *first),
        ("ines", "2026-07", "ines@example.org", "sent", None, *first),
    ]


def test_a_book_from_before_first_changes_were_noted_is_read(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table())
    club.send(only=("ines",))
    book = club.folder / ".setledger/mails.jsonl"
    lines = json_lines.read(book).lines
    json_lines.rewrite(
        book, [{key: line[key] for key in line if key not in ("code", "subject")} for line in lines]
    )
    database = club.folder / "setledger.duckdb"
    with duckdb.connect(str(database)) as con:
        con.execute("alter table ledger.mails drop column code")
        con.execute("alter table ledger.mails drop column subject")
        con.execute("update ledger.meta set schema_version = 2")
    with pytest.raises(UsageError, match="run `setledger build` first"):
        club.send(only=("ines",))
    assert runs.run(find_workspace(club.folder)).problems == []
    club.send(only=("ines",))
    assert club.states() == [("ines", "sending"), ("ines", "sent")]
    with duckdb.connect(str(database), read_only=True) as con:
        rows = con.execute("select state, code from ledger.mails order by state").fetchall()
    assert rows == [("sending", None), ("sent", None)]


# Who gets one


def test_who_wants_none_has_no_address_or_has_left_gets_none(club: Club, open_place: Open) -> None:
    place = open_place()
    clients = CLIENTS.replace('email = "ines@example.org"', "mail = false").replace(
        'email = "matthis@bücher.example"', "until = 2026-07-30\nemail = 'm@example.org'"
    ) + ('[[clients]]\nid = "petra"\nname = "Petra"\n')
    club.write(place.table(), clients)
    outcome = club.send()
    assert place.post.recipients == ["kofi@example.org"]
    assert {name: each.mail for name, each in outcome.clients.items()} == {
        "ines": "mail = false",
        "kofi": "sent",
        "matthis": "left",
        "petra": "no address",
    }
    assert "matthis: no mail (left)." in outcome.notes


def test_a_page_that_fails_stops_no_other_mail_and_nobody_gets_an_empty_one(
    club: Club, open_place: Open
) -> None:
    """Kofi's folder is in the way; Petra has an address, and not one set."""
    import shutil

    place = open_place()
    clients = CLIENTS + '[[clients]]\nid = "petra"\nname = "Petra"\nemail = "petra@example.org"\n'
    club.write(place.table(), clients)
    shutil.rmtree(club.folder / "out/kofi")
    (club.folder / "out/kofi").write_text("in the way", encoding="utf-8")
    outcome = club.send()
    assert place.post.recipients == [ALL[0], ALL[2]]
    assert {name: each.mail for name, each in outcome.clients.items()} == {
        "ines": "sent", "kofi": "not sent", "matthis": "sent", "petra": "no set yet",
    }  # fmt: skip
    assert outcome.exit_code == 1
    assert outcome.problems[0].startswith("kofi: this client's page could not be made")


def test_an_address_that_can_be_none_stops_nobody_else(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table(), CLIENTS.replace("ines@example.org", "ines at example.org"))
    outcome = club.send()
    assert place.post.recipients == ALL[1:]
    assert outcome.problems == [
        "ines: 'ines at example.org' is no mail address, so no mail went out; mend email in "
        "setledger.toml."
    ]


@pytest.mark.parametrize("sender", ["room", "Room <room>", "a@b", "room@example.org, x@y.org"])
def test_a_sender_that_is_not_one_address_is_named(
    club: Club, open_place: Open, sender: str
) -> None:
    club.write(open_place().table(**{"from": sender}))
    with pytest.raises(ConfigError, match=r"\[mail\] from: .* is not one mail address"):
        club.send()


def test_the_coach_gets_the_roster_without_dead_links(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table(coach="coach@example.org"))
    club.send()
    assert place.post.recipients == [*ALL, "coach@example.org"]
    message = place.post.mails[-1][1]
    assert message["Subject"] == "Harbour Lane Barbell Room: clients, July 2026"
    [roster] = [part for part in message.iter_attachments() if part.get_filename()]
    assert roster.get_filename() == "clients-2026-07.html"
    assert "Kofi Asante" in roster.get_content()
    assert "href=" not in roster.get_content()
    club.send()
    assert len(place.post.mails) == 4


def test_the_coach_s_copy_in_doubt_is_forced_without_the_clients(
    club: Club, open_place: Open
) -> None:
    place = open_place()
    club.write(place.table(coach="coach@example.org"))
    place.post.cuts = lambda step, address: step == "data" and address.startswith("coach")
    outcome = club.send()
    assert "`setledger send --month 2026-07 --coach --force`" in outcome.problems[0]
    place.post.cuts = lambda _step, _address: False
    club.send(for_coach_only=True, is_forced=True)
    assert place.post.recipients == [*ALL, "coach@example.org"]


def test_a_month_that_is_not_over_is_refused(club: Club, open_place: Open) -> None:
    club.write(open_place().table())
    with pytest.raises(UsageError, match="this month is not over"):
        club.send(month="2026-08")


# What a server may say


def test_a_mailbox_that_is_not_there_is_refused_once_and_the_others_are_done(
    club: Club, open_place: Open
) -> None:
    place = open_place()
    club.write(place.table())
    asked: list[str] = []

    def answer(address: str) -> str | None:
        asked.append(address)
        return "550 5.1.1 no such mailbox" if address.startswith("kofi") else None

    place.post.on_rcpt = answer
    outcome = club.send()
    assert place.post.recipients == [ALL[0], ALL[2]]
    assert outcome.exit_code == 1
    assert (
        "kofi: the mail of 2026-07 to kofi@example.org was refused (550 5.1.1 no such"
        in (outcome.problems[0])
    )
    assert asked.count("kofi@example.org") == 1, "a no for good is not asked again"
    assert ("kofi", "refused") in club.states()
    place.post.on_rcpt = lambda _address: None
    assert club.send().exit_code == 0, "the next run tries again"
    assert place.post.recipients.count("kofi@example.org") == 1


def test_a_full_mailbox_is_tried_again_in_later_rounds(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table())
    answers = iter(["452 4.2.2 mailbox full", "452 4.2.2 mailbox full", None])
    place.post.on_data = lambda address: next(answers) if address.startswith("kofi") else None
    assert club.send().problems == []
    assert place.post.recipients == [ALL[0], ALL[2], ALL[1]]
    assert [state for client, state in club.states() if client == "kofi"] == [
        "sending", "deferred", "sending", "deferred", "sending", "sent",
    ]  # fmt: skip


def test_a_mailbox_that_stays_full_is_told_and_tried_by_the_next_run(
    club: Club, open_place: Open
) -> None:
    place = open_place()
    club.write(place.table())
    place.post.on_data = lambda address: "452 full" if address.startswith("kofi") else None
    outcome = club.send()
    assert [outcome.clients[name].mail for name in ("ines", "kofi")] == ["sent", "not sent"]
    assert "could not be sent (452 full)" in outcome.problems[0]
    place.post.on_data = lambda _address: None
    assert club.send().problems == []
    assert sorted(place.post.recipients) == sorted(ALL)


def test_data_refused_for_good_is_not_tried_again(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table())
    place.post.on_data = lambda address: "554 not here" if address.startswith("ines") else None
    outcome = club.send()
    assert [state for client, state in club.states() if client == "ines"] == ["sending", "refused"]
    assert "554 not here" in outcome.problems[0]


@pytest.mark.slow
def test_a_line_cut_before_the_data_is_tried_again(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table())
    cuts = iter([True, False])
    place.post.cuts = lambda step, address: (
        step == "rcpt" and address.startswith("kofi") and next(cuts)
    )
    assert club.send().problems == []
    assert sorted(place.post.recipients) == sorted(ALL)


# The guarantee


@pytest.mark.parametrize("step", ["data", "taken"])
def test_a_line_cut_after_the_data_is_left_to_a_person(
    club: Club, open_place: Open, step: str
) -> None:
    """The client cannot know whether the mail was taken; it is never sent again by itself."""
    place = open_place()
    club.write(place.table())
    place.post.cuts = lambda at, address: at == step and address.startswith("kofi")
    outcome = club.send()
    assert outcome.clients["kofi"].mail == "in doubt"
    assert outcome.exit_code == 1
    assert "the server's answer never came: it may have arrived, or not" in outcome.problems[0]
    assert "`setledger send --month 2026-07 --client kofi --force`" in outcome.problems[0]
    arrived = place.post.recipients.count("kofi@example.org")
    assert arrived == (1 if step == "taken" else 0)
    place.post.cuts = lambda _step, _address: False
    again = club.send()
    assert "may have arrived, or not" in again.problems[0]
    assert place.post.recipients.count("kofi@example.org") == arrived
    club.send(only=("kofi",), is_forced=True)
    assert place.post.recipients.count("kofi@example.org") == arrived + 1
    assert club.send().problems == []


def test_an_answer_that_is_too_slow_is_a_doubt(
    club: Club, open_place: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(smtp, "FINAL_ANSWER_SECONDS", 0.0)
    place = open_place()
    club.write(place.table().replace("timeout_seconds = 2.0", "timeout_seconds = 0.5"))
    place.post.on_data = slowly(1.5)
    outcome = club.send(only=("ines",))
    assert outcome.clients["ines"].mail == "in doubt"
    time.sleep(1.5)
    assert place.post.recipients == ["ines@example.org"], "it had arrived after all"
    club.send(only=("ines",))
    assert place.post.recipients == ["ines@example.org"]


def test_a_slow_answer_within_the_time_is_waited_for(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table().replace("timeout_seconds = 2.0", "timeout_seconds = 0.3"))
    place.post.on_data = slowly(0.8)
    assert club.send(only=("ines",)).problems == []
    assert place.post.recipients == ["ines@example.org"]


def test_a_server_that_never_answers_leaves_two_in_doubt_not_all(
    club: Club, open_place: Open
) -> None:
    place = open_place()
    club.write(place.table())
    place.post.cuts = lambda step, _address: step == "data"
    outcome = club.send()
    assert [outcome.clients[name].mail for name in ("ines", "kofi", "matthis")] == [
        "in doubt", "in doubt", "not sent",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "moment", ["before the answer", pytest.param("after the answer", marks=pytest.mark.slow)]
)
def test_a_killed_run_sends_nothing_twice(
    club: Club, open_place: Open, moment: str, built_club: Path
) -> None:
    """kill -9 while the server holds its answer; then again right after it gave one."""
    place = open_place()
    club.write(place.table())
    started, killed = threading.Event(), threading.Event()

    def answer(address: str) -> str | None:
        if address.startswith("kofi") and not started.is_set():
            started.set()
            if moment == "before the answer":
                killed.wait(20)
        return None

    place.post.on_data = answer
    command = [str(Path(sys.executable).parent / "setledger"), "send", "-w", str(club.folder)]
    command += ["--month", "2026-07"]
    process = subprocess.Popen(command, env=os.environ.copy(), start_new_session=True)
    while not started.wait(0.02) and process.poll() is None:
        pass
    time.sleep(0.2 if moment == "before the answer" else 0.0)
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    killed.set()
    time.sleep(0.5)  # the server takes what it was given before the kill
    outcome = club.send()
    assert place.post.recipients.count("ines@example.org") == 1
    assert place.post.recipients.count("kofi@example.org") == 1
    assert place.post.recipients.count("matthis@xn--bcher-kva.example") == 1
    if moment == "before the answer":
        assert "may have arrived, or not" in outcome.problems[0]
    assert not (club.folder / ".setledger/outbox").exists()


@pytest.mark.slow
def test_kills_at_random_moments_send_nothing_twice_and_lose_nothing(
    club: Club, open_place: Open
) -> None:
    """kill -9 up to 1.5 seconds after the first recipient, five times over (seed 17)."""
    chance = random.Random(17)
    database = club.folder / "setledger.duckdb"
    without_mails = database.read_bytes()
    for _ in range(5):
        (club.folder / ".setledger/mails.jsonl").unlink(missing_ok=True)
        database.write_bytes(without_mails)
        place = open_place()
        club.write(place.table())
        place.post.on_data = slowly(0.4)
        command = [str(Path(sys.executable).parent / "setledger"), "send", "-w", str(club.folder)]
        process = subprocess.Popen(
            [*command, "--month", MONTH], env=os.environ.copy(), start_new_session=True,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        while not place.post.sessions and process.poll() is None:
            time.sleep(0.01)
        time.sleep(chance.uniform(0, 1.5))
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        time.sleep(1)
        outcome = club.send()
        assert max(map(place.post.recipients.count, ALL)) <= 1
        for client, recipient in zip(("ines", "kofi", "matthis"), ALL, strict=True):
            is_told = any(problem.startswith(f"{client}: ") for problem in outcome.problems)
            assert recipient in place.post.recipients or is_told
            assert (outcome.clients[client].mail == "in doubt") == is_told


def test_two_sends_at_once_are_one_and_a_refusal(club: Club, open_place: Open) -> None:
    from pipeline.ledger import store

    club.write(open_place().table())
    with store.locked(club.folder / ".setledger"), pytest.raises(BusyError):
        club.send()


# Safety of the line


def test_a_certificate_of_an_unknown_authority_stops_all(club: Club, open_place: Open) -> None:
    place = open_place("tls")
    club.write(place.table().replace(f"ca_file = '{place.ca_file.name}'\n", ""))
    outcome = club.send()
    assert place.post.mails == []
    assert "no safe connection" in outcome.problems[0]
    assert outcome.exit_code == 1


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_for_another_host_stops_all(
    club: Club, open_place: Open, security: str
) -> None:
    place = open_place(security, host="mail.example.org")
    club.write(place.table())
    outcome = club.send()
    assert place.post.mails == []
    assert "no safe connection" in outcome.problems[0]


def test_a_server_without_starttls_gets_nothing(club: Club, open_place: Open) -> None:
    place = open_place("none", with_auth=False)
    club.write(place.table().replace("security = 'none'", "security = 'starttls'"))
    outcome = club.send()
    assert place.post.mails == []
    assert "STARTTLS extension not supported" in outcome.problems[0]


def test_without_protection_only_this_machine_is_served(club: Club, open_place: Open) -> None:
    place = open_place("none", with_auth=False)
    club.write(place.table().replace("'localhost'", "'mail.example.org'"))
    with pytest.raises(ConfigError, match="for a server on this machine only"):
        club.send()


def test_plain_smtp_on_this_machine_works(
    club: Club, open_place: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(smtp.USER)
    monkeypatch.delenv(smtp.PASSWORD)
    place = open_place("none", with_auth=False)
    club.write(place.table())
    assert club.send().problems == []
    assert place.post.recipients == ALL


def test_a_wrong_password_stops_all_and_is_not_tried_again(
    club: Club, open_place: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(smtp.PASSWORD, "wrong")
    place = open_place()
    club.write(place.table().replace("timeout_seconds = 2.0", "timeout_seconds = 20.0"))
    outcome = club.send()
    assert "the server does not take user and password" in outcome.problems[0]
    assert "wrong" not in outcome.problems[0].split("(")[0]
    assert place.post.mails == []


def test_secrets_come_from_a_file_that_only_its_owner_reads(
    club: Club, open_place: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(smtp.USER)
    monkeypatch.delenv(smtp.PASSWORD)
    place = open_place()
    secrets = club.folder / "smtp.env"
    secrets.write_text(f"{smtp.USER}=room\n{smtp.PASSWORD}=north-quay\n", encoding="utf-8")
    club.write(place.table(secrets_file="smtp.env"))
    secrets.chmod(0o640)
    with pytest.raises(ConfigError, match="others can read this file of secrets"):
        club.send()
    secrets.chmod(0o600)
    assert club.send(only=("ines",)).problems == []
    assert place.post.users == ["room"]


def test_no_server_at_all_is_said_once_for_all(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table().replace(f"port = {place.port}", "port = 1"))
    outcome = club.send()
    assert [each.mail for each in outcome.clients.values()] == ["not sent"] * 3
    assert outcome.problems == [
        "3 mails of 2026-07 (ines, kofi and matthis) could not be sent (no connection to "
        "localhost:1: Connection refused); the next `setledger send` tries again."
    ]


def test_the_password_stands_nowhere(club: Club, open_place: Open) -> None:
    club.write(open_place().table())
    club.send()
    for path in club.folder.rglob("*"):
        if path.is_file():
            assert b"north-quay" not in path.read_bytes(), path


def test_the_command_says_who_got_none_and_exits_1_where_a_mail_was_refused(
    club: Club, open_place: Open
) -> None:
    place = open_place()
    club.write(place.table())
    place.post.on_rcpt = lambda address: "550 no" if address.startswith("ines") else None
    done = _command("send", "-w", str(club.folder), "--month", MONTH)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith("ines: the mail of 2026-07 to ines@example.org was refused (550")
    told = _command("send", "-w", str(club.folder), "--month", MONTH, "--client", "kofi", "-v")
    assert (told.returncode, told.stdout) == (0, "Mails of July 2026: 1 sent before.\n")


@pytest.mark.slow
def test_run_with_send_mails_the_month_that_ended_once(club: Club, open_place: Open) -> None:
    place = open_place()
    club.write(place.table())
    club.write(place.table(), CLIENTS.replace("2026-07-31", "2026-08-01"))
    for _ in range(2):
        done = _command("run", "--send", "-w", str(club.folder))
        assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert place.post.recipients == ALL
    assert (club.folder / "out/ines/2026-07-31.html").exists()


@pytest.mark.parametrize("nights", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_the_line_for_cron_mails_with_secrets_from_a_file(
    club: Club, open_place: Open, nights: int
) -> None:
    """README's crontab line by /bin/sh, with no terminal and cron's environment."""
    place = open_place()
    club.write(place.table(secrets_file="smtp.env"), CLIENTS.replace("2026-07-31", "2026-08-01"))
    secrets = club.folder / "smtp.env"
    secrets.write_text(f"{smtp.USER}=room\n{smtp.PASSWORD}=north-quay\n", encoding="utf-8")
    secrets.chmod(0o600)
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    [line] = re.findall(r"^\d+ \d+ \* \* \* (.+)$", readme, re.MULTILINE)
    command = str(Path(sys.executable).parent / "setledger")
    line = line.replace("/srv/harbour-lane/.venv/bin/setledger", command)
    line = line.replace("/srv/harbour-lane", str(club.folder))
    bare = ["/usr/bin/env", "-i", "HOME=/", "LOGNAME=nobody", "SHELL=/bin/sh", "PATH=/usr/bin:/bin"]
    for _ in range(nights):
        done = subprocess.run(
            [*bare, "/bin/sh", "-c", line], cwd="/", stdin=subprocess.DEVNULL, capture_output=True
        )
        assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    assert place.post.recipients == ALL


def _command(*words: str) -> Done:
    return run_setledger(*words, cwd=Path.cwd(), **os.environ)
