"""The client page: its figures are those of the tables, and each state gets an honest page."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
import shlex
from typing import TYPE_CHECKING

import pytest

from pipeline import formats
from pipeline.pages import client_page, texts
from pipeline.pages.sections import lifts

if TYPE_CHECKING:
    from tests.report.conftest import Page, Room


CLIENTS = (
    "ines", "odalys", "three", "hanging", "long-sets", "gone", "care", "empty", "hostile",
)  # fmt: skip


def headings(page: Page) -> list[str]:
    return [element.text.strip() for element in page.all("h2")]


def test_the_sections_stand_in_reading_order(room: Room) -> None:
    found = [each["id"] for each in room.page("ines").all("section") if each["id"]]
    assert found == [
        "days", "muscles", "rhythm", "effort", "lifts", "inside", "counted", "cautions",
    ]  # fmt: skip


def test_the_head_says_what_the_figures_rest_on(room: Room) -> None:
    sets, sessions = room.ask(
        "select count(effort_basis), count(distinct performed_on) from review.graded_sets"
        " where client_id = 'ines'"
    )[0]
    text = room.page("ines").all("p", class_="rests")[0].text
    assert f"{sets} work sets in {sessions} sessions" in text.replace("\u202f", "")
    assert "one line could not be read" in text
    assert "effort was noted for 100% of the sets" in text


def test_sets_per_muscle_are_those_of_the_table(room: Room) -> None:
    page = room.page("ines")
    rows = room.ask(
        "select muscle, fractional_sets_7d, weekly_rate, weekly_rate_before,"
        " median_sets_per_hit from review.muscle_status"
        " where client_id = 'ines' and weekly_rate > 0"
    )
    assert len(rows) > 8
    columns = (
        "fractional_sets_7d", "weekly_rate", "weekly_rate_before", "median_sets_per_hit",
    )  # fmt: skip
    for muscle, *values in rows:
        for column, value in zip(columns, values, strict=True):
            command = f"review.muscle_status.{column} --client ines --muscle {muscle}"
            shown = page.titles[f"setledger trace {command} --on 2026-08-30"]
            assert shown.startswith(formats.number(value)) or formats.number(value) in shown


def test_the_strip_s_numbers_are_those_of_the_rolling_week(room: Room) -> None:
    page = room.page("ines")
    rows = room.ask(
        "select muscle, day, fractional_sets_7d from review.rolling_week"
        " where client_id = 'ines' and day in ('2026-08-30', '2026-06-07', '2026-03-08')"
        " and fractional_sets_7d > 0"
    )
    assert len(rows) > 20
    for muscle, day, value in rows:
        command = (
            f"setledger trace review.rolling_week.fractional_sets_7d --client ines"
            f" --muscle {muscle} --on {day}"
        )
        assert page.titles[command] == formats.number(value)


def test_estimates_of_the_last_session_are_those_of_the_table(room: Room) -> None:
    page = room.page("ines")
    rows = room.ask(
        "select exercise, day, e1rm_epley, e1rm_brzycki from review.lift_session"
        " where client_id = 'ines' qualify day = max(day) over (partition by exercise)"
    )
    assert len(rows) == 6
    for exercise, day, epley, brzycki in rows:
        for column, value in (("e1rm_epley", epley), ("e1rm_brzycki", brzycki)):
            command = shlex.join(
                ["setledger", "trace", f"review.lift_session.{column}", "--client", "ines",
                 "--exercise", exercise, "--on", str(day)]
            )  # fmt: skip
            assert page.titles[command] == formats.number(value)


def test_a_client_in_pounds_reads_pounds(room: Room) -> None:
    """60 kg are 132.3 lb: 60 / 0.45359237."""
    page = room.page("odalys")
    (best,) = room.ask(
        "select best_e1rm from review.lift_status"
        " where client_id = 'odalys' and exercise = 'bench press'"
    )[0]
    command = (
        "setledger trace review.lift_status.best_e1rm --client odalys"
        " --exercise 'bench press' --on 2026-08-30"
    )
    assert page.titles[command] == formats.number(best / 0.45359237)
    assert "(kg)" not in page.html and "Epley (lb)" in page.html


def test_the_status_of_each_lift_is_told_in_words(room: Room) -> None:
    page = room.page("ines")
    rows = room.ask("select exercise, status from review.lift_status where client_id = 'ines'")
    captions = {
        figure.text.split("\n")[1].strip(): figure.text
        for figure in page.elements
        if figure.tag == "figure" and "panel" in figure["class"]
    }
    for exercise, status in rows:
        name = exercise[:1].upper() + exercise[1:]
        caption = next(text for heading, text in captions.items() if heading.startswith(name))
        assert lifts.STATUSES[status] in caption.lower()


def test_every_figure_of_the_review_names_its_command(room: Room) -> None:
    """Cells with a number or a status carry the command; dates, sets and plain names need none."""
    page = room.page("ines")
    start = next(i for i, each in enumerate(page.elements) if each["id"] == "muscles")
    end = next(i for i, each in enumerate(page.elements) if each["id"] == "counted")
    is_count = re.compile(r"[+−]?[\d\u202f]+\.\d%?|[\d\u202f]{2,}%?")
    bare = [
        each.text
        for each in page.elements[start:end]
        if each.tag == "td" and is_count.fullmatch(each.text.strip()) and not each["title"]
    ]
    assert bare == []
    assert len(page.titles) > 500


def test_commands_are_words_that_a_shell_reads_back(room: Room) -> None:
    for client_id in ("ines", "hostile"):
        for command in room.page(client_id).titles:
            words = shlex.split(command)
            assert words[:2] == ["setledger", "trace"]
            assert re.fullmatch(r"review\.\w+\.\w+", words[2])
            assert words[3:5] == ["--client", client_id]


def test_each_chart_has_its_text_and_its_reading(room: Room) -> None:
    page = room.page("ines")
    drawings = page.all("svg", role="img")
    assert len(drawings) >= 1 + 6 + 2
    ids = {element["id"] for element in page.elements if element["id"]}
    for drawing in drawings:
        assert set(drawing["aria-labelledby"].split()) <= ids
    figures = page.all("figure")
    captions = page.all("figcaption")
    assert len(figures) == len(captions)
    assert all(caption.text.strip() for caption in captions)


def test_ids_are_unique(room: Room) -> None:
    for client_id in CLIENTS:
        ids = [element["id"] for element in room.page(client_id).elements if element["id"]]
        assert len(ids) == len(set(ids))


def test_links_are_relative_and_lead_somewhere(room: Room) -> None:
    page = room.page("ines")
    ids = {element["id"] for element in page.elements if element["id"]}
    for link in page.all("a"):
        beside = ("../index.html", "years.html")
        assert link["href"] in beside or link["href"].removeprefix("#") in ids


def test_headings_do_not_skip_a_rank(room: Room) -> None:
    for client_id in CLIENTS:
        ranks = [
            int(e.tag[1]) for e in room.page(client_id).elements if re.fullmatch("h[1-6]", e.tag)
        ]
        assert ranks[0] == 1 and ranks.count(1) == 1
        assert all(after <= before + 1 for before, after in itertools.pairwise(ranks))


def test_tables_have_captions_and_headers(room: Room) -> None:
    page = room.page("ines")
    tables = page.all("table")
    assert len(tables) == len(page.all("caption"))
    assert all(header["scope"] in ("row", "col") for header in page.all("th"))


# What the page may do


@pytest.mark.parametrize("client_id", CLIENTS)
def test_nothing_is_fetched_and_only_our_style_takes_effect(room: Room, client_id: str) -> None:
    page = room.page(client_id)
    policy = page.all("meta", **{"http-equiv": "Content-Security-Policy"})[0]["content"]
    style = re.search(r"<style>(.*?)</style>", page.html, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; script-src 'none'; "
        "base-uri 'none'; form-action 'none'"
    )
    assert not re.search(r"""(?:src|href)=["']?(?:https?:)?//|url\(|@import""", page.html)
    assert "style=" not in page.html.replace(style[0], "")


@pytest.mark.parametrize("client_id", ["hostile", "ines"])
def test_names_and_notes_run_nothing(room: Room, client_id: str) -> None:
    for page in (room.page(client_id), room.roster({"hostile": "<script>alert(3)</script>"})):
        assert {"script", "img"} & {each.tag for each in page.elements} <= {"script"}
        assert "<script>alert" not in page.html
        assert "<img" not in page.html
        assert not any(name.startswith("on") for each in page.elements for name in each.attributes)
        assert "49" not in page.all("h1")[0].text


def test_the_hostile_name_is_shown_as_it_was_written(room: Room) -> None:
    page = room.page("hostile")
    name = page.all("h1")[0].text
    assert name == room.workspace.client("hostile").name
    assert any(name.lower() in heading.text.lower() for heading in page.all("h3"))
    assert any(name in cell.text for cell in room.evidence("hostile").all("td"))


# Empty states


def test_three_sessions_give_a_page_without_judgement(room: Room) -> None:
    page = room.page("three")
    assert "No muscle is judged against the guide" in page.html
    assert "too few sessions" in page.html
    standings = [text for title, text in page.titles.items() if "muscle_status.standing" in title]
    assert standings and set(standings) == {formats.NOT_JUDGED}


def test_lifts_without_an_estimate_are_drawn_as_an_index(room: Room) -> None:
    page = room.page("long-sets")
    assert lifts.INDEX_AXIS in page.html or lifts.REPS_AXIS in page.html
    cells = [text for title, text in page.titles.items() if "e1rm_epley" in title]
    assert cells == [formats.NOTHING]


def test_bodyweight_lifts_have_estimates_from_bodyweight(room: Room) -> None:
    page = room.page("hanging")
    assert "Pull-up" in page.html
    cells = [text for title, text in page.titles.items() if "e1rm_epley" in title]
    assert cells and cells[0] != formats.NOTHING


def test_who_left_a_year_ago_is_told_so_and_not_judged(room: Room) -> None:
    page = room.page("gone")
    notice = page.all("p", class_="notice")[0].text
    assert "days before this review" in notice
    assert {section["id"] for section in page.all("section")} >= {"lifts", "counted"}
    assert not page.all("section", id="muscles")
    assert not page.all("section", id="effort")
    # fade is measured to the last logged day, so it stays; nothing of the last weeks is drawn
    assert not page.all("figure", class_="chart")


def test_care_shows_figures_only(room: Room) -> None:
    page = room.page("care")
    assert "licensed professional" in page.all("p", class_="notice")[0].text
    standings = {text for title, text in page.titles.items() if "muscle_status.standing" in title}
    assert standings == {formats.NOT_JUDGED}
    words = {each.text for each in page.all("strong")}
    assert not words & {"Progressing.", "Stalled.", "Regressing."}
    assert page.all("section", id="muscles")


def test_a_client_without_sets_gets_a_page_that_says_so(room: Room) -> None:
    page = room.page("empty")
    assert client_page.NOTHING_LOGGED in page.all("p", class_="notice")[0].text
    assert headings(page) == ["Cautions"]
    assert [each.text for each in room.evidence("empty").all("h2")][-1] == (
        "How each figure is counted"
    )


def test_cautions_stand_on_every_page(room: Room) -> None:
    for client_id in CLIENTS:
        text = room.page(client_id).all("section", id="cautions")[0].text
        for caution in texts.CAUTIONS:
            assert caution in text


def test_tool_and_tables_are_named_at_the_coach_s_foot_and_in_the_client_s_head(room: Room) -> None:
    named = "setledger test, tables version 3"
    for page in (room.page("ines"), room.evidence("ines")):
        assert page.all("meta", name="generator")[0]["content"] == named
    assert [each.text for each in room.evidence("ines").all("footer")] == [named]
    assert room.page("ines").all("footer") == []


WORKSHOP = re.compile(r"\.csv|\.toml|setledger|contract|set aside|unread|`|\bline \d|:\d+\b", re.I)


@pytest.mark.parametrize("client_id", CLIENTS)
def test_a_client_reads_nothing_of_the_workshop(room: Room, client_id: str) -> None:
    """No file, line, command or contract in what a client sees; commands stay in title text."""
    main = room.page(client_id).all("main")[0].text
    head = room.page(client_id).all("header")[0].text
    assert WORKSHOP.findall(main + head.replace(room.workspace.client(client_id).name, "")) == []


def test_what_the_checker_calls_workshop_stands_on_the_evidence_page(room: Room) -> None:
    found = set(WORKSHOP.findall(room.evidence("ines").all("main")[0].text))
    assert {".csv", "setledger", "set aside", "`", ":7"} <= found


def test_a_coach_reads_no_other_client_s_lines(room: Room) -> None:
    page = room.evidence("ines")
    assert "exports/shared.csv:7" in page.html
    assert ":9" not in page.all("section", id="set-aside")[0].text
    assert "'ten'" not in page.html
    assert "Two further lines" in page.html


def test_every_column_that_the_page_shows_has_its_command_among_the_evidence(room: Room) -> None:
    shown = {shlex.split(command)[2] for command in room.page("ines").titles}
    listed = {shlex.split(command)[2] for command in room.evidence("ines").titles}
    assert shown <= listed


def test_thresholds_in_the_small_print_are_those_in_force(room: Room) -> None:
    for page in (room.page("ines"), room.evidence("ines")):
        text = page.all("dl")[0].text
        assert "at most 3 repetitions in reserve" in text
        assert "up to 12" in text


def test_a_page_stays_small(room: Room) -> None:
    assert len(room.html("ines").encode()) < 500_000
    assert len(room.evidence("ines").html.encode()) < 500_000


def test_the_same_tables_give_the_same_bytes(room: Room) -> None:
    assert room.html("ines") == room.html("ines")
