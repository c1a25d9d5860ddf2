"""Logs of our own invention, rendered in a shape drawn at random, with the truth beside them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any, TypeVar

from pipeline.units import KG_PER_LB

T = TypeVar("T")
Choose = Callable[[Sequence[Any]], Any]
"""Draws one of several; Hypothesis or a seeded generator stands behind it."""

LIFTS = {
    "en": ("Back Squat", "Bench Press", "Barbell Row", "Overhead Press", "Lat Pulldown"),
    "de": ("Kniebeuge", "Bankdrücken", "Langhantelrudern", "Schulterdrücken", "Latziehen"),
    "fr": ("Squat", "Développé couché", "Rowing barre", "Développé militaire", "Soulevé de terre"),
    "es": ("Sentadilla", "Press de banca", "Remo con barra", "Peso muerto", "Jalón al pecho"),
    "pt": ("Agachamento", "Supino reto", "Remada curvada", "Levantamento terra", "Puxada alta"),
    "it": ("Squat", "Panca piana", "Rematore con bilanciere", "Stacco da terra", "Lat machine"),
    "nl": ("Squat", "Bankdrukken", "Deadlift", "Lat pulldown", "Schouderdrukken"),
}
HEADERS: dict[str, dict[str, tuple[str, ...]]] = {
    "en": {
        "day": ("Date", "date", "Workout Date", "Day", "When"),
        "lift": ("Exercise", "exercise_name", "Lift", "Movement"),
        "load": ("Weight", "Load", "weight", "Weight used"),
        "reps": ("Reps", "Repetitions", "reps", "Reps done", "No. of reps"),
        "set": ("Set", "Set #", "set_number", "Set No."),
        "rir": ("RIR", "Reps in reserve", "rir"),
        "note": ("Notes", "Comment"),
        "other": ("Duration", "Gym", "Muscle group", "Calories", "Weather", "Workout name"),
    },
    "de": {
        "day": ("Datum", "Tag", "Trainingstag", "Wann"),
        "lift": ("Übung", "Uebung", "ÜBUNG", "Name der Übung"),
        "load": ("Gewicht", "Last", "Arbeitsgewicht", "Hantelgewicht"),
        "reps": ("Wdh", "Wdh.", "Wiederholungen", "Anzahl Wdh"),
        "set": ("Satz", "Satz-Nr.", "Satznummer"),
        "rir": ("RIR", "Reserve", "Wdh. in Reserve"),
        "note": ("Notiz", "Bemerkungen"),
        "other": ("Dauer", "Studio", "Muskelgruppe", "Kalorien", "Wetter", "Einheit Name"),
    },
    "fr": {
        "day": ("Date", "Jour", "Date de séance"),
        "lift": ("Exercice", "Nom de l'exercice", "Mouvement"),
        "load": ("Poids", "Charge", "Charge utilisée"),
        "reps": ("Répétitions", "Reps", "Nb reps", "Rép."),
        "set": ("Série", "N° série", "Série n°"),
        "rir": ("RIR", "Réserve", "Répétitions en réserve"),
        "note": ("Remarques", "Commentaire"),
        "other": ("Durée", "Salle", "Groupe musculaire", "Calories", "Météo", "Séance"),
    },
    "es": {
        "day": ("Fecha", "Día", "Fecha de entrenamiento"),
        "lift": ("Ejercicio", "Nombre del ejercicio", "EJERCICIO"),
        "load": ("Peso", "Carga", "Peso usado"),
        "reps": ("Repeticiones", "Reps", "Reps.", "Nº de repeticiones"),
        "set": ("Serie", "Nº serie", "Número de serie"),
        "rir": ("RIR", "Reserva", "Repeticiones en reserva"),
        "note": ("Notas", "Observaciones"),
        "other": ("Duración", "Gimnasio", "Grupo muscular", "Calorías", "Clima", "Rutina"),
    },
    "pt": {
        "day": ("Data", "Dia", "Data do treino"),
        "lift": ("Exercício", "Nome do exercício", "exercicio"),
        "load": ("Peso", "Carga", "Carga utilizada"),
        "reps": ("Repetições", "Reps", "Nº de repetições"),
        "set": ("Série", "Nº série", "Número da série"),
        "rir": ("RIR", "Reserva", "Repetições em reserva"),
        "note": ("Notas", "Observações"),
        "other": ("Duração", "Academia", "Grupo muscular", "Calorias", "Clima", "Treino"),
    },
    "it": {
        "day": ("Data", "Giorno", "Data allenamento"),
        "lift": ("Esercizio", "Nome esercizio", "ESERCIZIO"),
        "load": ("Peso", "Carico", "Peso sollevato"),
        "reps": ("Ripetizioni", "Rip.", "N. ripetizioni"),
        "set": ("Serie", "N. serie", "Numero serie"),
        "rir": ("RIR", "Riserva", "Ripetizioni in riserva"),
        "note": ("Note", "Osservazioni"),
        "other": ("Durata", "Palestra", "Gruppo muscolare", "Calorie", "Meteo", "Scheda"),
    },
    "nl": {
        "day": ("Datum", "Dag", "Trainingsdag"),
        "lift": ("Oefening", "Naam oefening", "oefening"),
        "load": ("Gewicht", "Belasting", "Gebruikt gewicht"),
        "reps": ("Herhalingen", "Herh.", "Aantal herhalingen", "Reps"),
        "set": ("Set", "Setnummer", "Set nr."),
        "rir": ("RIR", "Reserve", "Herhalingen in reserve"),
        "note": ("Opmerkingen", "Notitie"),
        "other": ("Duur", "Sportschool", "Spiergroep", "Calorieën", "Weer", "Training"),
    },
}
OTHER_CELLS = {0: "62", 1: "Nordbad", 2: "A", 3: "410", 4: "17", 5: "A"}
"""What stands in the columns under HEADERS[...]["other"], by their place."""

DAY_FORMS = ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%Y/%m/%d", "%d.%m.%y",
             "%m/%d/%y", "%G-W%V-%u", "%Y%m%d", "%Y-%m-%dT18:05:00+02:00", "%d/%m/%Y 18:05",
             "%m/%d/%Y 06:05 PM", "%d %b %Y")  # fmt: skip


@dataclass(frozen=True)
class Rendered:
    """A file, how it was written, and the sets that it holds."""

    data: bytes
    shape: dict[str, Any]
    truth: dict[str, Any]
    """Key of a mapping that may stay open, to its right value."""
    sets: list[tuple[date, str, float, int, float | None]]
    """Day, lift, load in kg (rounded to 3 decimals), reps, reps in reserve."""
    columns: dict[str, str] = field(default_factory=dict)


def rendered(choose: Choose) -> Rendered:
    """A log in a shape; each trait is drawn by `choose`."""
    shape = _shape(choose)
    log = _log(choose, shape)
    header, rows, names = _table(choose, shape, log)
    lines = [] if shape["header"] == "none" else [header]
    delimiter = shape["delimiter"]
    text = [_joined(cells, delimiter) for cells in (*lines, *rows)]
    if shape["preamble"]:
        text = ["My training", "", *text]
    data = (shape["line_end"].join(text) + shape["line_end"]).encode(shape["encoding"])
    if shape["bom"] and shape["encoding"] == "utf-8":
        data = b"\xef\xbb\xbf" + data
    day_form = shape["day_form"].replace("18:05", "%H:%M").replace("06:05 PM", "%I:%M %p")
    truth = {"date": day_form, "load_unit": shape["unit"]}
    return Rendered(data, shape, truth, [each[:5] for each in log], names)


def _shape(choose: Choose) -> dict[str, Any]:
    language = choose(sorted(LIFTS))
    unit = choose(("kg", "kg", "kg", "lb"))
    decimal = choose((".", ",")) if unit == "kg" else "."
    shape = {
        "language": language,
        "header": choose(("words", "words", "words", "words", "none")),
        "unit": unit,
        "unit_in": choose(("header", "header", "cell", "column", "nowhere")),
        "decimal": decimal,
        "delimiter": choose((",", ";", "\t", "|")),
        "line_end": choose(("\n", "\r\n")),
        "encoding": choose(("utf-8", "utf-8", "cp1252", "utf-16", "utf-16-le", "utf-16-be")),
        "bom": choose((False, True)),
        "layout": choose(("sets", "sets", "sets", "wide", "list")),
        "day_form": choose(DAY_FORMS),
        "order": choose(("usual", "shuffled")),
        "rir": choose((False, True)),
        "numbered": choose((False, True)),
        "others": choose((0, 1, 3)),
        "preamble": choose((False, False, True)),
        "newest_first": choose((False, False, True)),
    }
    if shape["header"] == "none":
        shape |= {"layout": choose(("sets", "list")), "others": 0, "preamble": False,
                  "unit_in": choose(("cell", "column", "nowhere"))}  # fmt: skip
    if shape["layout"] == "list":
        shape |= {"unit_in": "cell", "rir": False, "numbered": False}
    if shape["layout"] == "wide":
        shape |= {"numbered": False}
        if shape["unit_in"] == "column":
            shape["unit_in"] = "header"
    return shape


def _log(choose: Choose, shape: dict[str, Any]) -> list[tuple[Any, ...]]:
    """Sets in file order: day, lift, load in kg, reps, rir, load as written, set number."""
    lifts = LIFTS[shape["language"]][: choose((2, 3, 4))]
    step = 2.5 if shape["unit"] == "kg" else 5.0
    factor = 1.0 if shape["unit"] == "kg" else KG_PER_LB
    day = date(choose((2023, 2024, 2025)), choose(range(1, 13)), choose(range(1, 28)))
    days = []
    for _ in range(choose((4, 8, 14))):
        days.append(day)
        day += timedelta(days=choose((1, 2, 2, 3, 4)))
    base = [choose(range(8, 40)) * step for _ in lifts]
    log: list[tuple[Any, ...]] = []
    for nth, day in enumerate(reversed(days) if shape["newest_first"] else days):
        for place, lift in enumerate(lifts):
            for number in range(1, choose((2, 3, 4)) + 1):
                load = base[place] + step * (nth // 3) - (2 * step if number > 2 else 0)
                reps = choose((5, 6, 8, 10, 12))
                rir = float(choose((0, 1, 2, 3))) if shape["rir"] else None
                log.append((day, lift, round(load * factor, 3), reps, rir, load, number))
    return log


def _table(
    choose: Choose, shape: dict[str, Any], log: list[tuple[Any, ...]]
) -> tuple[list[str], list[list[str]], dict[str, str]]:
    if shape["layout"] == "list":
        return _list_table(choose, shape, log)
    if shape["layout"] == "wide":
        return _wide_table(choose, shape, log)
    words = {name: choose(each) for name, each in HEADERS[shape["language"]].items()}
    columns: list[tuple[str, Callable[[tuple[Any, ...]], str]]] = [
        (words["day"], lambda row: _day(row[0], shape)),
        (words["lift"], lambda row: row[1]),
        (_load_header(words["load"], shape, choose), lambda row: _load(row[5], shape)),
        (words["reps"], lambda row: str(row[3])),
    ]
    if shape["numbered"]:
        columns.append((words["set"], lambda row: str(row[6])))
    if shape["rir"]:
        columns.append((words["rir"], lambda row: f"{row[4]:g}"))
    if shape["unit_in"] == "column":
        columns.append(("Unit", lambda row: shape["unit"]))
    columns += _others(choose, shape)
    if shape["order"] == "shuffled":
        columns = _shuffled(choose, columns)
    header = [name for name, _ in columns]
    return header, [[cell(row) for _, cell in columns] for row in log], words


def _others(
    choose: Choose, shape: dict[str, Any]
) -> list[tuple[str, Callable[[tuple[Any, ...]], str]]]:
    names = HEADERS[shape["language"]]["other"]
    places = list(range(len(names)))[choose((0, 1, 2)) :][: shape["others"]]

    def cell(place: int) -> Callable[[tuple[Any, ...]], str]:
        return lambda row: OTHER_CELLS[place]

    return [(names[place], cell(place)) for place in places]


def _list_table(
    choose: Choose, shape: dict[str, Any], log: list[tuple[Any, ...]]
) -> tuple[list[str], list[list[str]], dict[str, str]]:
    words = {name: choose(each) for name, each in HEADERS[shape["language"]].items()}
    mark = choose((", ", "; ", " / "))
    joined = {}
    for row in log:
        cell = f"{row[5]:g}{shape['unit']}x{row[3]}"
        joined.setdefault((row[0], row[1]), []).append(cell.replace(".", shape["decimal"]))
    rows = [[_day(day, shape), lift, mark.join(each)] for (day, lift), each in joined.items()]
    sets = {"en": "Sets", "de": "Sätze", "fr": "Séries", "es": "Series", "pt": "Séries",
            "it": "Serie", "nl": "Sets"}  # fmt: skip
    return [words["day"], words["lift"], sets[shape["language"]]], rows, words


def _wide_table(
    choose: Choose, shape: dict[str, Any], log: list[tuple[Any, ...]]
) -> tuple[list[str], list[list[str]], dict[str, str]]:
    words = {name: choose(each) for name, each in HEADERS[shape["language"]].items()}
    groups: dict[tuple[date, str], list[tuple[Any, ...]]] = {}
    for row in log:
        groups.setdefault((row[0], row[1]), []).append(row)
    most = max(len(each) for each in groups.values())
    numbered = choose(("{word} {n}", "{word}{n}", "{n}. {word}", "{word}_{n}"))

    def name(word: str, n: int) -> str:
        return str(numbered).format(word=word.rstrip(".#°"), n=n)

    fields = ["load", "reps", *(["rir"] if shape["rir"] else [])]
    loads = _load_header(words["load"], shape, choose)
    heads = {"load": loads, "reps": words["reps"], "rir": words["rir"]}
    header = [words["day"], words["lift"]]
    header += [name(heads[each], n) for n in range(1, most + 1) for each in fields]
    rows = []
    for (day, lift), each in groups.items():
        cells = [_day(day, shape), lift]
        for row in each:
            found = {"load": _load(row[5], shape), "reps": str(row[3])}
            if row[4] is not None:
                found["rir"] = f"{row[4]:g}"
            cells += [found[one] for one in fields]
        rows.append(cells + [""] * (len(header) - len(cells)))
    return header, rows, words


def _load_header(word: str, shape: dict[str, Any], choose: Choose) -> str:
    if shape["unit_in"] != "header":
        return word
    unit = choose(("kg",) if shape["unit"] == "kg" else ("lb", "lbs"))
    return str(choose(("{w} ({u})", "{w} [{u}]", "{w} {u}", "{w}_{u}"))).format(w=word, u=unit)


def _load(load: float, shape: dict[str, Any]) -> str:
    text = f"{load:g}".replace(".", shape["decimal"])
    return f"{text} {shape['unit']}" if shape["unit_in"] == "cell" else text


def _day(day: date, shape: dict[str, Any]) -> str:
    return day.strftime(shape["day_form"])


def _joined(cells: list[str], delimiter: str) -> str:
    return delimiter.join(
        f'"{cell}"' if delimiter in cell or ";" in cell else cell for cell in cells
    )


def _shuffled(choose: Choose, items: list[T]) -> list[T]:
    left, done = list(items), []
    while left:
        done.append(left.pop(choose(range(len(left)))))
    return done
