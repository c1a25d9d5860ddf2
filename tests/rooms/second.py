"""Rooms written after the rules were mended with the first ones in view, and tried once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import groupby

from tests.rooms.first import by_load, joined, text
from tests.rooms.logs import LIFTS, PULL_UPS, Month, Room, Written, num, own

ROOMS: list[Room] = []
Write = Callable[[Month], Iterable[Written]]


def room(
    language: str, *people: str, unit: str = "kg", pulls: str = "", **habit: object
) -> Callable[[Write], Write]:
    def kept(write: Write) -> Write:
        if pulls:
            habit.update(pull_up=PULL_UPS[language], own_weight=pulls)
        ROOMS.append(Room(write.__name__, unit, people, {"lifts": LIFTS[language]} | habit, write))
        return write

    return kept


@room("en", "Maud Kerr", "Rafe Lund", pulls="added")
def dashes_between_load_and_reps(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["DAY,MOVEMENT,HOW IT WENT"]
        for each in log.entries:
            cell = " | ".join(
                f"{own(one, 'BW', '.', ' ')}{'kg' if one.load else ''} - {joined(reps, ',')}"
                for one, reps in by_load(each.sets)
            )
            lines.append(f'{each.day:%d-%b-%y},{each.lift},"{cell}"')
        yield f"{log.who} week log {month.number}.csv", text(*lines)


@room("de", "Ute Brandt", "Kai Özdemir", pulls="bare", rpe=True)
def trainingsbuch_mit_rpe(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = [f"Sportler: {log.who};;", ";;", "Tag;Übung;Sätze (kg)"]
        for each in log.entries:
            cell = "  ".join(
                f"{own(one, 'Körpergewicht', ',')} x {one.reps}"
                + (f" (RPE {num(one.rpe, ',')})" if one.rpe else "")
                for one in each.sets
            )
            lines.append(f"{each.day:%d.%m.%Y};{each.lift};{cell}")
        yield f"Buch {month.number} {log.who[:2]}.csv", text(*lines), "cp1252"


@room("fr", "Élise", "Bastien", varied=True)
def colonnes_par_serie(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["date;mouvement;S1 kg;S1 reps;S2 kg;S2 reps;S3 kg;S3 reps;S4 kg;S4 reps;remarque"]
        for each in log.entries:
            cells = [f"{num(one.load or 0, ',')};{one.reps}" for one in each.sets]
            cells += [";"] * (4 - len(cells))
            lines.append(";".join([f"{each.day:%d.%m.%y}", each.lift, *cells, "ok"]))
        yield f"{log.who}-{month.number}.csv", text(*lines)


@room("es", "Rosa Vidal", "Teo Campos", "Inés Mora")
def series_por_reps_por_peso(month: Month) -> Iterator[Written]:
    lines = ["Nombre\tFecha\tEjercicio\tTrabajo"]
    for day in sorted({each.day for log in month.logs for each in log.entries}):
        for log in month.logs:
            for each in (one for one in log.entries if one.day == day):
                cell = ", ".join(
                    f"{len(list(group))} x {reps} con {num(each.sets[0].load or 0, ',')} kg"
                    for reps, group in groupby(each.sets, key=lambda one: one.reps)
                )
                lines.append(f"{log.who}\t{day:%d/%m/%Y}\t{each.lift}\t{cell}")
    yield f"grupo tarde {month.number}.txt", text(*lines), "utf-16"


@room("it", "Nico Fava", "Bice Orsi", warm=True, drop=True)
def segni_e_frecce(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Data,Alzata,Set"]
        for each in log.entries:
            cell = ""
            for one in each.sets:
                before = " -> " if one.kind == "extension" else "; " if cell else ""
                mark = "risc. " if one.kind == "warmup" else ""
                cell += f"{before}{mark}{num(one.load or 0)}kg x {one.reps}"
            lines.append(f'{each.day:%d/%m/%Y},{each.lift},"{cell}"')
        lines.append("Totale mese,,")
        yield f"{log.who} {month.number:02d}_2026.csv", text(*lines)


@room("nl", "Wout", "Fenna", pulls="added")
def blokken_met_totaal(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Datum;Oefening;Reeks;Gewicht;Hh"]
        for day, entries in log.by_day():
            total = 0.0
            for each in entries:
                for number, one in enumerate(each.sets, start=1):
                    total += (one.load or 0) * one.reps
                    shown = own(one, "eigen gewicht", ",", " ")
                    unit = "" if one.load is None else " kg"
                    lines.append(f"{day:%d-%m-%Y};{each.lift};{number};{shown}{unit};{one.reps}")
            lines += [f"Dagtotaal;;;{num(total, ',')};", ";;;;"]
        yield f"{log.who} 2026-{month.number:02d} definitief.csv", text(*lines)


@room("pt", "Duarte Sá", "Lia Reis", rir=True)
def reserva_no_fim(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["quando;exercício;séries"]
        for each in log.entries:
            cell = " / ".join(
                f"{num(one.load or 0, ',')}kg x {one.reps} @{num(one.rir)}"
                for one in each.sets
                if one.rir is not None
            )
            lines.append(f"{each.day.isoformat()};{each.lift};{cell}")
        yield f"{log.who} - {month.number:02d}.csv", text(*lines)


@room("en", "Otis", "Peg", "Sid", unit="lb", drop=True)
def kinds_by_letter(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["when,lift,set,lbs,reps,kind"]
        letter = {"work": "", "extension": "D", "warmup": "W"}
        lines += [
            f"{day:%m/%d/%y},{lift},{number},{num(one.load or 0)},{one.reps},{letter[one.kind]}"
            for day, lift, number, one in log.singly()
        ]
        yield f"{log.who} export {month.number}.csv", text(*lines)


@room("de", "Gerd", "Hilde", varied=True)
def tage_als_zeilen(month: Month) -> Iterator[Written]:
    lifts = LIFTS["de"]
    for log in month.logs:
        lines = ["\t".join(["Datum", "Stimmung", *lifts])]
        for day, entries in log.by_day():
            cells = {each.lift: each for each in entries}
            lines.append(
                "\t".join(
                    [
                        f"{day:%d.%m.%Y}",
                        "gut",
                        *(
                            "; ".join(
                                f"{num(one.load or 0, ',')} kg: {one.reps}"
                                for one in cells[lift].sets
                            )
                            if lift in cells
                            else "-"
                            for lift in lifts
                        ),
                    ]
                )
            )
        yield f"{log.who} {month.number}-2026.tsv", text(*lines)


@room("en", "Una", "Vic", warm=True)
def warm_ups_in_a_column_of_their_own(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["date,exercise,warm-up sets,work sets"]
        for each in log.entries:
            warm = [one for one in each.sets if one.kind == "warmup"]
            work = tuple(one for one in each.sets if one.kind == "work")
            cells = (
                ", ".join(f"{num(one.load or 0)}kg x {one.reps}" for one in warm),
                "; ".join(
                    f"{num(one.load or 0)}kg x {joined(reps, ',')}" for one, reps in by_load(work)
                ),
            )
            lines.append(f'{each.day},{each.lift},"{cells[0]}","{cells[1]}"')
        yield f"{log.who} m{month.number}.csv", text(*lines)


@room("fr", "Jules Perrin", "Agnès Colin", sided=True)
def cotes_abreges(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["Jour,Exercice,Côté,Charge (kg),Répétitions"]
        lines += [
            f"{day:%Y.%m.%d},{lift},{'g' if one.side == 'left' else 'd'},{num(one.load or 0)},"
            f"{one.reps}"
            for day, lift, _, one in log.singly()
        ]
        yield f"{log.who} v{month.number} final.csv", text(*lines)


@room("es", "Pilar", "Quique", pulls="assisted")
def asistencia_con_menos(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["día;ejercicio;kilos;reps;nota"]
        lines += [
            f"{day:%d/%m/%y};{lift};{own(one, 'PC', ',', ' ')};{one.reps};"
            + ("" if number > 1 else "hombro bien")
            for day, lift, number, one in log.singly()
        ]
        yield f"{log.who} copia {month.number}.csv", text(*lines), "cp1252"


@room("it", "Remo Tani", "Ada Lodi")
def ripetizioni_prima(month: Month) -> Iterator[Written]:
    for log in month.logs:
        lines = ["giorno|esercizio|fatto"]
        for each in log.entries:
            cell = "; ".join(
                f"{joined(reps, ' ')} @ {num(one.load or 0, ',')}kg"
                for one, reps in by_load(each.sets)
            )
            lines.append(f"{each.day:%d-%m-%Y}|{each.lift}|{cell}")
        yield f"{log.who} {month.number}.csv", text(*lines)


@room("en", "Bea Flynn", "Cal Ng")
def counts_and_volume(month: Month) -> Iterator[Written]:
    lines = ["athlete,date,lift,sets,reps,kg,total kg"]
    for log in month.logs:
        for each in log.entries:
            for one, group in groupby(each.sets):
                count = len(list(group))
                total = count * one.reps * (one.load or 0)
                lines.append(
                    f"{log.who},{each.day:%d/%m/%Y},{each.lift},{count},{one.reps},"
                    f"{num(one.load or 0)},{num(total)}"
                )
    yield f"squad 2026-{month.number:02d}.csv", text(*lines)
