"""Names of months and weekdays in seven languages, turned into the English that strptime reads."""

from __future__ import annotations

import re
import unicodedata

_ENGLISH_MONTHS = (
    "January February March April May June July August September October November December"
)
_ENGLISH_DAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday"

_MONTHS = (
    "january february march april may june july august september october november december",
    "jan feb mar apr may jun jul aug sep oct nov dec",
    "jan feb mar apr may jun jul aug sept oct nov dec",
    "januar februar marz april mai juni juli august september oktober november dezember",
    "janner feber maerz apr mai jun jul aug sept okt nov dez",
    "jan febr mrz apr mai jun jul aug sep okt nov dez",
    "janvier fevrier mars avril mai juin juillet aout septembre octobre novembre decembre",
    "janv fevr mars avr mai juin juil aout sept oct nov dec",
    "jan fev mar avr mai juin jul aou sep oct nov dec",
    "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "ene feb mar abr may jun jul ago setiembre oct nov dic",
    "janeiro fevereiro marco abril maio junho julho agosto setembro outubro novembro dezembro",
    "jan fev mar abr mai jun jul ago set out nov dez",
    "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
    "gen feb mar apr mag giu lug ago set ott nov dic",
    "januari februari maart april mei juni juli augustus september oktober november december",
    "jan feb mrt apr mei jun jul aug sep okt nov dec",
)
_DAYS = (
    "monday tuesday wednesday thursday friday saturday sunday",
    "mon tue wed thu fri sat sun",
    "mon tues wed thurs fri sat sun",
    "montag dienstag mittwoch donnerstag freitag samstag sonntag",
    "mo di mi do fr sa so",
    "mo di mi do fr sonnabend so",
    "lundi mardi mercredi jeudi vendredi samedi dimanche",
    "lun mar mer jeu ven sam dim",
    "lunes martes miercoles jueves viernes sabado domingo",
    "lun mar mie jue vie sab dom",
    "segunda terca quarta quinta sexta sabado domingo",
    "seg ter qua qui sex sab dom",
    "lunedi martedi mercoledi giovedi venerdi sabato domenica",
    "lun mar mer gio ven sab dom",
    "maandag dinsdag woensdag donderdag vrijdag zaterdag zondag",
    "ma di wo do vr za zo",
)
_ORDINAL = re.compile(r"\b([0-9]{1,2})(?:er|st|nd|rd|th|º|ª|°)(?=\W)")
_WORD = re.compile(r"[^\W\d_]+\.?")


def _table(rows: tuple[str, ...], english: str) -> dict[str, str]:
    """Folded name to English name."""
    return {
        name: meant
        for row in rows
        for name, meant in zip(row.split(), english.split(), strict=True)
    }


MONTHS = _table(_MONTHS, _ENGLISH_MONTHS)
"""Folded month name or abbreviation to the English month."""

DAYS = _table(_DAYS, _ENGLISH_DAYS)
"""Folded weekday name or abbreviation to the English weekday."""


def fold_name(word: str) -> str:
    """Lower case, without accents and without the point of an abbreviation."""
    plain = unicodedata.normalize("NFKD", word.casefold().rstrip("."))
    return "".join(letter for letter in plain if not unicodedata.combining(letter))


def in_english(text: str, pattern: str) -> str:
    """A text with the names that a pattern's %b, %B, %a and %A stand for in English.

    The word that is a weekday's name comes before the day or not at all, so the first word that
    can be one is taken for it if the pattern has a weekday.
    """
    wants_day = "%A" if "%A" in pattern else "%a" if "%a" in pattern else None
    wants_month = "%B" if "%B" in pattern else "%b" if "%b" in pattern else None

    def told(match: re.Match[str]) -> str:
        nonlocal wants_day, wants_month
        name = fold_name(match[0])
        if wants_day and name in DAYS:
            found = DAYS[name] if wants_day == "%A" else DAYS[name][:3]
            wants_day = None
            return found
        if wants_month and name in MONTHS:
            found = MONTHS[name] if wants_month == "%B" else MONTHS[name][:3]
            wants_month = None
            return found
        return match[0]

    return _WORD.sub(told, _ORDINAL.sub(r"\1", text))
