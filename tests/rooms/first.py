"""Rooms written before the rules that read them: each writes down its logs in a way of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import groupby

from tests.rooms.logs import LIFTS, PULL_UPS, Entry, Month, Room, Set, Written, num, own

ROOMS: list[Room] = []
MONATE = {3: "März", 4: "April"}
MOIS = {3: "mars", 4: "avril"}
MESES = {3: "marzo", 4: "abril"}
MONTHS = {3: "March", 4: "April"}
MESI = {3: "marzo", 4: "aprile"}
Write = Callable[[Month], Iterable[Written]]


def room(
    language: str, *people: str, unit: str = "kg", pulls: str = "", **habit: object
) -> Callable[[Write], Write]:
    """A room by its way of writing; `pulls`: pull-ups are bare, added or assisted."""

    def kept(write: Write) -> Write:
        if pulls:
            habit.update(pull_up=PULL_UPS[language], own_weight=pulls)
        lifts = {"lifts": LIFTS[language]}
        ROOMS.append(Room(write.__name__, unit, people, lifts | habit, write))
        return write

    return kept


def text(*lines: str) -> str:
    return "\n".join(lines) + "\n"


def by_load(sets: tuple[Set, ...]) -> Iterator[tuple[Set, list[int]]]:
    """Neighbouring sets at one load, with their repetitions."""
    for _, group in groupby(sets, key=lambda one: (one.load, one.kind, one.basis)):
        found = list(group)
        yield found[0], [one.reps for one in found]


def joined(reps: list[int], mark: str) -> str:
    return mark.join(map(str, reps))


@room("de", "Mara Lind", "Jürgen Groß", "Tom Eck")
def heft_mit_wochensummen(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Tag;Übung;Last (kg);Wdh"]
        for at, (day, entries) in enumerate(log.by_day()):
            if at % 2 == 0:
                lines.append(f"Woche {at // 2 + 1};;;")
            rows = [(each, one) for each in entries for one in each.sets]
            lines += [
                f"{day:%d.%m.%Y};{each.lift};{num(one.load or 0, ',')};{one.reps}"
                for each, one in rows
            ]
            lines.append(f"Summe;;;{sum(one.reps for _, one in rows)}")
        yield f"{log.who} {MONATE[month.number]} 2026.csv", text(*lines), "cp1252"


@room("en", "Ada", "Bo", warm=True)
def warm_up_then_one_load(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Date,Lift,Done"]
        for each in log.entries:
            cell = "; ".join(
                ("w " if one.kind == "warmup" else "") + f"{num(one.load or 0)}x{joined(reps, ',')}"
                for one, reps in by_load(each.sets)
            )
            lines.append(f'{each.day},{each.lift},"{cell}"')
        yield (
            f"{log.who.lower()}-2026-{month.number:02d}.csv",
            text(*lines).replace("Done", "Done (kg)"),
        )


@room("en", "Ada", "Bo", unit="lb", drop=True)
def pounds_with_drops(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["when|what|sets (lb)"]
        for each in log.entries:
            cell = " > ".join(
                f"{num(one.load or 0)}x{joined(reps, ',')}" for one, reps in by_load(each.sets)
            )
            lines.append(f"{each.day:%m/%d/%Y}|{each.lift}|{cell}")
        yield f"{log.who} {MONTHS[month.number]}.csv", text(*lines)


@room("fr", "Zoé Marchand", "Luc Petit", pulls="added")
def carnet_a_barres(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Jour;Exercice;Séries (kg)"]
        for each in log.entries:
            cell = " ; ".join(
                f"{own(one, 'PDC', ',')}x{joined(reps, '/')}" for one, reps in by_load(each.sets)
            )
            lines.append(f'{each.day:%d/%m/%Y};{each.lift};"{cell}"')
        yield f"{log.who} {MOIS[month.number]}.csv", text(*lines), "utf-8-sig"


@room("es", "Nuria Peña", "Iker Soto")
def libreta_con_dos_puntos(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Fecha;Ejercicio;Series"]
        for each in log.entries:
            cell = " | ".join(
                f"{num(one.load or 0, ',')}: {joined(reps, ' ')}"
                for one, reps in by_load(each.sets)
            )
            lines.append(f"{each.day:%d-%m-%Y};{each.lift};{cell}")
        yield f"{log.who} {MESES[month.number]}.csv", text(*lines)


@room("it", "Elena Riva", "Dario Conti", pulls="bare", varied=True)
def scheda_larga(month: Month) -> Iterator[Written]:
    for log in month.logs:
        heads = "".join(f";kg {n};rip {n}" for n in range(1, 6))
        lines = [f"Giorno;Esercizio{heads}"]
        for each in log.entries:
            cells = [f"{own(one, 'CL', ',')};{one.reps}" for one in each.sets]
            lines.append(
                ";".join([f"{each.day:%d/%m/%y}", each.lift, *cells, *[";"] * (5 - len(cells))])
            )
        yield f"scheda {log.who} {MESI[month.number]}.csv", text(*lines)


@room("nl", "Sanne Vos", "Piet de Boer", "Anouk Kok", pulls="added")
def gedeelde_lijst(month: Month) -> Iterator[Written]:
    lines = ["datum;wie;oefening;set;kg;herh"]
    rows = [
        (day, log.who, lift, number, one)
        for log in month.logs
        for day, lift, number, one in log.singly()
    ]
    lines += [
        f"{day:%d-%m-%Y};{who};{lift};{number};{own(one, 'LG', ',')};{one.reps}"
        for day, who, lift, number, one in sorted(rows, key=lambda row: row[0])
    ]
    yield f"lijst {month.number:02d}-2026.csv", text(*lines)


@room("pt", "Inês Duarte", "Rui Matos", pulls="bare")
def folha_por_dia(month: Month) -> Iterator[Written]:
    lifts = [*LIFTS["pt"], PULL_UPS["pt"]]
    for log in month.logs:
        lines = [";".join(["Data", *lifts])]
        for day, entries in log.by_day():
            cells = {each.lift: each for each in entries}
            lines.append(
                ";".join(
                    [
                        f"{day:%d/%m/%Y}",
                        *(
                            ", ".join(
                                f"{own(one, 'PC', ',')}x{one.reps}" for one in cells[lift].sets
                            )
                            if lift in cells
                            else ""
                            for lift in lifts
                        ),
                    ]
                )
            )
        yield f"folha-{log.who}-{month.number:02d}.csv", text(*lines)


@room("de", "Käthe Wolf", "Nils Ahrens", pulls="added")
def koerpergewicht_kg(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Datum;Übung;Satz;Gewicht;Wiederholungen"]
        lines += [
            f"{day:%d.%m.%y};{lift};{number};{own(one, 'KG', ',', ' ')};{one.reps}"
            for day, lift, number, one in log.singly()
        ]
        yield f"{log.who}_{month.number:02d}.csv", text(*lines), "utf-16"


@room("en", "Ilse Brandt", "Noor Haddad", unit="lb", rpe=True)
def name_above(month: Month) -> Iterator[Written]:
    for at, log in enumerate(month.logs, start=1):
        lines = [f"Client: {log.who}", "Programme: block of autumn", ""]
        lines.append("When,Movement,Weight (lb),Reps,RPE")
        lines += [
            f"{day.day} {day:%b} {day.year},{lift},{num(one.load or 0)},{one.reps},{num(one.rpe)}"
            for day, lift, _, one in log.singly()
            if one.rpe is not None
        ]
        yield f"block {month.number} sheet {at}.csv", text(*lines)


@room("en", "Wren", "Sunniva", warm=True)
def crosses_for_warm_ups(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["date\tlift\tkg\treps\twarm-up"]
        lines += [
            f"{day}\t{lift}\t{num(one.load or 0)}\t{one.reps}\t{'x' * (one.kind == 'warmup')}"
            for day, lift, _, one in log.singly()
        ]
        yield f"{log.who} {month.number}.tsv", text(*lines)


@room("fr", "Anaïs Roy", "Paul Henry", rir=True)
def entetes_repetes(month: Month) -> Iterator[Written]:
    for log in month.logs:
        head = "Date;Exercice;Charge;Reps;Réserve"
        lines = []
        for day, entries in log.by_day():
            lines += [head] + [
                f"{day:%d/%m/%Y};{each.lift};{num(one.load or 0, ',')} kg;{one.reps};{num(one.rir)}"
                for each in entries
                for one in each.sets
                if one.rir is not None
            ]
            lines.append(";;;;")
        yield f"suivi {log.who} {MOIS[month.number]} 2026.csv", text(*lines), "cp1252"


@room("de", "Birgit Öhm", "Ole Tiedt", varied=True)
def spalten_mit_saetzen(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Datum;Übung;1. Satz;2. Satz;3. Satz;4. Satz"]
        for each in log.entries:
            cells = [f"{num(one.load or 0, ',')} kg x {one.reps}" for one in each.sets]
            lines.append(
                ";".join([f"{each.day:%d.%m.%Y}", each.lift, *cells, *[""] * (4 - len(cells))])
            )
        yield f"Plan {log.who} {MONATE[month.number]}.csv", text(*lines)


@room("en", "Kofi", "Ines", sided=True)
def sides_by_line(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["date,lift,side,kilos,reps"]
        lines += [
            f"{day},{lift},{'L' if one.side == 'left' else 'R'},{num(one.load or 0)},{one.reps}"
            for day, lift, _, one in log.singly()
        ]
        yield f"{log.who}_v{month.number}.csv", text(*lines)


@room("es", "Marta Ruiz", "Jon Arana", sided=True)
def lados_en_columnas(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["fecha,ejercicio,peso (kg),reps izq,reps der"]
        for each in log.entries:
            pairs = zip(each.sets[::2], each.sets[1::2], strict=True)
            lines += [
                f"{each.day:%d/%m/%Y},{each.lift},{num(left.load or 0)},{left.reps},{right.reps}"
                for left, right in pairs
            ]
        yield f"{log.who} - {MESES[month.number]}.csv", text(*lines)


@room("en", "Tess Ó Briain", "Owen Pugh", pulls="assisted")
def written_once(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Day\tExercise\tLoad\tReps"]
        last: tuple[object, object] = (None, None)
        for day, lift, number, one in log.singly():
            shown = (f"{day:%d %B %Y}" if day != last[0] else "", lift if number == 1 else "")
            lines.append(f"{shown[0]}\t{shown[1]}\t{own(one, 'BW')}\t{one.reps}")
            last = (day, lift)
        text_of = text(*lines).replace("\tLoad\t", "\tLoad kg\t")
        yield f"{log.who} {MONTHS[month.number]}.txt", text_of, "utf-16"


@room("it", "Sara Neri", "Aldo Villa")
def serie_per_ripetizioni(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["data,esercizio,lavoro,note"]
        for each in log.entries:
            cell = " + ".join(
                f"{len(list(group))}x{reps} {num(each.sets[0].load or 0, ',')}kg"
                for reps, group in groupby(each.sets, key=lambda one: one.reps)
            )
            lines.append(f'{each.day},{each.lift},"{cell}","bene, ma lento"')
        yield f"{log.who} {MESI[month.number]} 2026.csv", text(*lines)


@room("de", "Uwe Rabe", "Lena Moll")
def saetze_mal_wiederholungen(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Datum;Übung;Leistung"]
        for each in log.entries:
            cell = " / ".join(
                f"{len(list(group))}x{reps}@{num(each.sets[0].load or 0, ',')}"
                for reps, group in groupby(each.sets, key=lambda one: one.reps)
            )
            lines.append(
                f"{each.day:%a} {each.day:%d.%m.%Y};{each.lift};{cell} kg".replace("Mon", "Mo")
                .replace("Thu", "Do")
                .replace("Fri", "Fr")
                .replace("Tue", "Di")
            )
        yield f"{log.who} {month.number}-26.csv", text(*lines)


@room("en", "Gus", "Hana", "Idris")
def load_before_reps(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Session date;Exercise;What I did"]
        for each in log.entries:
            cell = "; ".join(
                f"{num(one.load or 0)}kg - {joined(reps, '/')}" for one, reps in by_load(each.sets)
            )
            lines.append(f'{each.day:%Y/%m/%d};{each.lift};"{cell}"')
        yield f"{log.who} log {month.number}.csv", text(*lines)


@room("nl", "Femke", "Joris")
def herhalingen_en_haakjes(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["dag;oefening;gedaan"]
        for each in log.entries:
            cell = ", ".join(
                f"{joined(reps, '-')} ({num(one.load or 0, ',')} kg)"
                for one, reps in by_load(each.sets)
            )
            lines.append(f"{each.day:%d-%m-%Y};{each.lift};{cell}")
        yield f"{log.who} {month.number:02d}.csv", text(*lines)


@room("en", "Pia", "Quentin", "Rosa")
def reps_in_one_cell(month: Month) -> Iterator[Written]:
    lines = ["who,date,lift,kg,reps"]
    for log in month.logs:
        for each in log.entries:
            lines += [
                f"{log.who},{each.day},{each.lift},{num(one.load or 0)},{joined(reps, '/')}"
                for one, reps in by_load(each.sets)
            ]
    yield f"hall {MONTHS[month.number].lower()}.csv", text(*lines)


@room("de", "Vera Stolz", "Willi Zorn", varied=True)
def zwei_listen(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Datum;Übung;Gewichte (kg);Wiederholungen"]
        for each in log.entries:
            loads = " / ".join(num(one.load or 0, ",") for one in each.sets)
            lines.append(
                f"{each.day:%d.%m.%Y};{each.lift};{loads};"
                + " / ".join(str(one.reps) for one in each.sets)
            )
        yield f"{log.who} {MONATE[month.number]}.csv", text(*lines)


@room("pt", "João Leal", "Clara Pinto", pulls="bare")
def palavras_nas_celulas(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["data;exercício;carga;repetições"]
        lines += [
            f"{day:%d/%m/%Y};{lift};"
            f"{'sem peso' if one.load is None else num(one.load, ',') + ' kg'};{one.reps} reps"
            for day, lift, _, one in log.singly()
        ]
        yield f"treino {log.who} {month.number:02d}-2026.csv", text(*lines)


@room("es", "Lola Gil", "Pau Ferrer", rir=True, warm=True)
def esfuerzo_en_la_celda(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Día,Ejercicio,Series hechas (kg)"]
        for each in log.entries:
            cell = "; ".join(
                f"{'cal ' * (one.kind == 'warmup')}{num(one.load or 0)} x {one.reps}"
                + (f" RIR {num(one.rir)}" if one.rir is not None else "")
                for one in each.sets
            )
            lines.append(f'{each.day.isoformat()},{each.lift},"{cell}"')
        yield f"{log.who} {MESES[month.number]} 2026.csv", text(*lines)


@room("it", "Bruno Sala", "Gaia Ferri")
def giorni_senza_anno(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = [f"{MESI[month.number].title()} 2026;;;", "data;esercizio;carico;rip"]
        lines += [
            f"{day.day}/{day.month};{lift};{num(one.load or 0, ',')} kg;{one.reps}"
            for day, lift, _, one in log.singly()
        ]
        yield f"{log.who} {MESI[month.number]} 2026.csv", text(*lines)


@room("de", "Sven Haas", "Rieke Thom", warm=True, drop=True)
def art_des_satzes(month: Month) -> Iterator[Written]:
    words = {"warmup": "Aufwärmen", "work": "", "extension": "Drop"}
    for log in month.logs:
        lines = ["Datum,Übung,Art,Kilo,Wdh"]
        lines += [
            f'{day:%d.%m.%Y},{lift},{words[one.kind]},"{num(one.load or 0, ",")}",{one.reps}'
            for day, lift, _, one in log.singly()
        ]
        lines.append(",,,,")
        yield f"{log.who.lower()}-{MONATE[month.number].lower()}.csv", text(*lines)


@room("fr", "Manon", "Hugo", failure=True)
def echec_dans_la_cellule(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["date;exercice;séries"]
        for each in log.entries:
            cell = ", ".join(
                f"{num(one.load or 0, ',')} kg × {one.reps}{' échec' if one.failure else ''}"
                for one in each.sets
            )
            lines.append(f"{each.day:%d/%m/%Y};{each.lift};{cell}")
        yield f"{log.who} {MOIS[month.number]}.csv", text(*lines)


@room("nl", "Koen", "Merel")
def totalen_per_regel(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["datum;oefening;sets;herhalingen;gewicht (kg);volume"]
        total = 0.0
        for each in log.entries:
            for one, group in groupby(each.sets):
                count = len(list(group))
                volume = count * one.reps * (one.load or 0)
                total += volume
                lines.append(
                    f"{each.day:%d-%m-%Y};{each.lift};{count};{one.reps};"
                    f"{num(one.load or 0, ',')};{num(volume, ',')}"
                )
        lines.append(f"Totaal;;;;;{total:.1f}".replace(".", ","))
        yield f"{log.who} maand {month.number}.csv", text(*lines)


@room("en", "Yara", "Zeb")
def holds_among_sets(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Date,Exercise,Sets"]
        for day, entries in log.by_day():
            for each in entries:
                cell = "; ".join(f"{num(one.load or 0)} kg x {one.reps}" for one in each.sets)
                lines.append(f"{day},{each.lift},{cell}")
            lines += [f"{day},Plank,3x45s", f"{day},Farmer's carry,24kg x 20m"]
        yield f"{log.who} - {MONTHS[month.number]}.csv", text(*lines)


@room("es", "Aitor", "Bea", pulls="assisted")
def lastre_y_ayuda(month: Month) -> Iterator[Written]:
    lines = ["quién;fecha;ejercicio;series"]
    for log in month.logs:
        for each in log.entries:
            cell = ", ".join(
                f"{own(one, 'PC', ',')} x {one.reps}"
                if one.basis or one.load is None
                else f"{num(one.load, ',')} kg x {one.reps}"
                for one in each.sets
            )
            lines.append(f"{log.who};{each.day:%d/%m/%Y};{each.lift};{cell}")
    yield f"sala {MESES[month.number]}.csv", text(*lines)


@room("en", "Cleo Marsh", "Dov Stein")
def one_load_many_reps_columns(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Date,Exercise,Weight kg,Set 1,Set 2,Set 3,Set 4,Comment"]
        for each in log.entries:
            reps = [str(one.reps) for one in each.sets]
            lines.append(
                ",".join(
                    [
                        f"{each.day:%d/%m/%Y}", each.lift, num(each.sets[0].load or 0), *reps,
                        *[""] * (4 - len(reps)), "slept well" if each.day.day % 2 else "",
                    ]
                )
            )  # fmt: skip
        yield f"{log.who} {MONTHS[month.number]} 2026.csv", text(*lines)


def _blocks(month: Month, head: Callable[[Entry], str]) -> Iterator[Written]:
    for log in month.logs:
        lines = ["What,kg,reps"]
        for _, entries in log.by_day():
            lines.append(f"{head(entries[0])},,")
            lines += [
                f"{each.lift},{num(one.load or 0)},{one.reps}"
                for each in entries
                for one in each.sets
            ]
        yield f"{log.who} {MONTHS[month.number]} 2026.csv", text(*lines)


@room("en", "Effie", "Fred")
def days_as_headings(month: Month) -> Iterator[Written]:
    yield from _blocks(month, lambda each: f"{each.day:%A} {each.day.day} {each.day:%B %Y}")


@room("fr", "Chloé Denis", "Rémi Blanc", warm=True)
def marques_devant(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Date\tExercice\tRéalisation (kg)"]
        for each in log.entries:
            cell = " ; ".join(
                f"{'éch. ' * (one.kind == 'warmup')}{num(one.load or 0, ',')}x{joined(reps, '-')}"
                for one, reps in by_load(each.sets)
            )
            lines.append(f"{each.day:%d/%m/%Y}\t{each.lift}\t{cell}")
        yield f"{log.who} - {MOIS[month.number]}.tsv", text(*lines)


@room("it", "Ivo Bassi", "Lia Monti", warm=True, pulls="bare")
def riscaldamento_tra_parentesi(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["data;esercizio;serie (kg)"]
        for each in log.entries:
            cell = ", ".join(
                f"({num(one.load or 0, ',')}x{one.reps})"
                if one.kind == "warmup"
                else f"{own(one, 'a corpo libero', ',')} x {one.reps}"
                for one in each.sets
            )
            lines.append(f"{each.day:%d/%m/%Y};{each.lift};{cell}")
        yield f"{log.who} {month.number:02d}-2026.csv", text(*lines)


@room("pt", "Vasco", "Teresa", pulls="bare", rpe=True)
def um_numero_e_pse(month: Month) -> Iterator[Written]:
    lines = ["aluno;data;exercício;nº série;carga (kg);reps;PSE"]
    for log in month.logs:
        lines += [
            f"{log.who};{day:%d/%m/%Y};{lift};{number};{own(one, 'p. corporal', ',')};{one.reps};"
            f"{num(one.rpe, ',') if one.rpe is not None else ''}"
            for day, lift, number, one in log.singly()
        ]
    yield f"turma-{month.number:02d}.csv", text(*lines), "cp1252"


@room("nl", "Bram", "Lotte", drop=True)
def afbouwsets_met_pijl(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["datum;oefening;sets in kg"]
        for each in log.entries:
            cell = ""
            for one in each.sets:
                mark = " → " if one.kind == "extension" else " | " if cell else ""
                cell += f"{mark}{num(one.load or 0, ',')}x{one.reps}"
            lines.append(f"{each.day:%d-%m-%Y};{each.lift};{cell}")
        yield f"{log.who} schema {month.number}.csv", text(*lines)


@room("en", "Gil", "Hope", unit="lb", pulls="added", warm=True)
def hash_and_at(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Date,Lift,Log"]
        for each in log.entries:
            cell = ", ".join(
                f"{own(one, 'bodyweight', '.', ' ')}{' lbs' if one.load else ''} x {one.reps}"
                + " (warm-up)" * (one.kind == "warmup")
                for one in each.sets
            )
            lines.append(f'{each.day:%b} {each.day.day} {each.day.year},{each.lift},"{cell}"')
        yield f"{log.who}'s training {month.number}.csv", text(*lines)


@room("de", "Anke", "Bernd", "Conny", rir=True)
def wdh_mit_reserve(month: Month) -> Iterator[Written]:
    lines = ["Name;Datum;Übung;kg;Wdh;noch drin"]
    for log in month.logs:
        lines += [
            f"{log.who};{day:%d.%m.};{lift};{num(one.load or 0, ',')};{one.reps};{num(one.rir)}"
            for day, lift, _, one in log.singly()
            if one.rir is not None
        ]
    yield f"Halle {MONATE[month.number]} 2026.csv", text(*lines)
