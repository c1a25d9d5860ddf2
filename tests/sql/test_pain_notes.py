"""Notes that speak of pain, injury or dizziness, and notes that only sound so; seven languages."""

from __future__ import annotations

import json

import pytest

from pipeline.review.trace import trace
from tests.conftest import Log, day

HURTS = (
    "sharp shoulder pain, stopped early",
    "Knee hurts a bit",
    "my elbow was aching after set 2",
    "tweaked my lower back",
    "felt dizzy, sat down",
    "light-headed",
    "numbness in left hand",
    "headache all day",
    "no rest today, some knee pain",
    "not sure, but hip pain again",
    "pain 3/10",
    "no pain in the knee. Shoulder hurts though",
    "starke Schmerzen in der Schulter",
    "Knie tut weh",
    "Rückenschmerzen",
    "mir war schwindelig",
    "Oberschenkel gezerrt",
    "kein Kaffee, dann Schmerzen im Knie",
    "douleur à l'épaule",
    "mal au dos",
    "ça fait mal au genou",
    "petit vertige",
    "me duele la rodilla",
    "dolor de espalda",
    "un poco de mareo",
    "dor no ombro",
    "o joelho doeu",
    "senti tontura",
    "mi fa male la spalla",
    "dolore al ginocchio",
    "mal di schiena",
    "pijn in de schouder",
    "rugpijn",
    "last van mijn knie",
    "beetje duizelig",
    "felt a pop in my elbow",
    "sore knee on the last set",
    "shoulder acting up again",
    "saw stars after set 3",
    "back seized up, bruised shin",
    "beim Kreuzheben verhoben",
    "umgeknickt",
    "Knie macht Probleme",
    "Ziehen in der Schulter",
    "le dos bloqué depuis hier",
    "ça tire dans l'épaule",
    "gêne au genou",
    "me hice daño en la espalda",
    "hombro inflamado",
    "pontada nas costas",
    "travei a lombar",
    "um pouco de incômodo no joelho",
    "fastidio alla spalla",
    "schiena bloccata",
    "strappo al polpaccio",
    "knie deed zeer",
    "in mijn rug geschoten",
    "pols gekneusd",
)
FINE = (
    "",
    "felt strong",
    "no pain",
    "No pain, no gain!",
    "no shoulder pain today",
    "no knee or back pain",
    "pain-free again",
    "shoulder pain gone",
    "knee doesn't hurt",
    "without any pain",
    "pain: 0",
    "pain 0/10",
    "pain level none",
    "painfully slow queue for the rack",
    "new paint in the gym",
    "number 3 was hard",
    "sore from Monday",
    "injury prevention work",
    "keine Schmerzen",
    "ohne Schmerzen",
    "schmerzfrei",
    "Muskelkater",
    "tut nicht weh",
    "sans douleur",
    "aucune douleur",
    "pas mal",
    "pas de douleur",
    "du mal à dormir",
    "sin dolor",
    "no me duele",
    "agujetas",
    "sem dor",
    "não doeu",
    "senza dolore",
    "non fa male",
    "geen pijn",
    "pijnvrij",
    "spierpijn van maandag",
    "geen last van de knie",
    "playlist was a pain, session wasn't",
    "last set hurt in a good way",
    "what a pain to set up",
    "nothing hurts",
    "couldn't hurt to try",
    "tweaked my grip a little",
    "hurt the ego, not the back",
    "headphones acting up",
    "80 kg gerissen, sauber",
    "tut nur dem Ego weh",
    "guter Schmerz",
    "ohne Beschwerden",
    "Handy zickt",
    "mal à me motiver",
    "ça fait mal à l'ego",
    "aucune gêne",
    "rien ne fait mal",
    "segundo tirón mejor",
    "nada me duele",
    "sin molestias",
    "dor boa",
    "nada dói",
    "sem incômodo",
    "fa male solo all'ego",
    "senza fastidi",
    "niente fa male",
    "lekkere pijn",
    "niets doet pijn",
    "last van de drukte",
)


@pytest.fixture(scope="module")
def hurting(new_log: object) -> set[str]:
    """The notes that speak of pain, each logged with one set."""
    log = new_log()  # type: ignore[operator]
    for nth, note in enumerate((*HURTS, *FINE)):
        log.set(day(nth % 28), "bench press", 60.0, 8, notes=note or None)
    log.build(day(27))
    return {
        note
        for (note,) in log.ask(
            "select notes from review.pain_notes join ledger.sets using (set_id)"
        )
    }


@pytest.mark.parametrize("note", HURTS)
def test_it_speaks_of_pain(hurting: set[str], note: str) -> None:
    assert note in hurting


@pytest.mark.parametrize("note", FINE)
def test_it_does_not(hurting: set[str], note: str) -> None:
    assert note not in hurting


def test_notes_of_four_weeks_are_read_up_to_the_last_covered_day(log: Log) -> None:
    for offset in (0, 1, 28, 29):
        log.set(day(offset), "bench press", 60.0, 8, notes="sharp pain")
    log.exported(day(28))
    log.build(day(28))
    assert log.ask("select performed_on from review.pain_notes order by all") == [
        (day(1),),
        (day(28),),
    ]


def test_the_finding_leads_back_to_the_sets_with_such_a_note(log: Log) -> None:
    for offset in (0, 20, 21):
        log.sets(day(offset), "bench press", 60.0, 8, 2, notes="sharp pain")
        log.set(day(offset), "bench press", 60.0, 8, notes="easy")
    log.exported(day(30))
    log.build(day(30))
    found = trace(
        log.con, "findings.evidence", {"client_id": "ines", "code": "pain_note", "subject": None}
    )
    assert json.loads(found.value)["notes"] == 4
    assert sum(row[found.columns.index("counts")] for row in found.rows) == 4
    assert len(found.rows) == 6


def test_only_days_and_number_reach_the_tables(log: Log) -> None:
    log.set(day(0), "bench press", 60.0, 8, notes="sharp pain, the doctor said rest")
    log.build(day(0))
    tables = [name for (name,) in log.ask(
        "select table_name from information_schema.tables where table_schema = 'review'"
    )]  # fmt: skip
    for table in tables:
        assert "doctor" not in str(log.ask(f"select * from review.{table}")), table


def test_an_unknown_exercise_that_hurts_bars_all_that_adds(log: Log) -> None:
    """Nobody knows which muscles it trains."""
    from pipeline.settings.workspace import Client
    from tests.sql.finding_logs import AS_OF, found, train, without

    for client, notes in (("ines", "sharp pain"), ("kofi", None)):
        train(log, client, without("lateral raise"), weekly_pct=0)
        train(log, client, {"lateral raise": (10.0, 2)}, weekly_pct=0)
        log.set(AS_OF, "zzz thing", 20.0, 10, rir=1.0, notes=notes, client_id=client)
    marked = [Client(id=each, name="", bring_up=("side_delts",)) for each in ("ines", "kofi")]
    log.exported(AS_OF)
    log.build(AS_OF, clients=marked)
    assert not found(log, "ines")["volume", "side_delts"].is_noticed
    assert found(log, "kofi")["volume", "side_delts"].is_noticed
