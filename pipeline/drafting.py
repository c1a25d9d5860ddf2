"""From an unknown export to a mapping: which column fills which field, each with its reason.

Headers are read first, and cells have a veto: a column called "Weight" that holds days is none.
Where no header tells, cells alone decide. Where two readings fit, the key stays open.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import polars as pl

from pipeline.errors import ExportError
from pipeline.exercises import Catalogue
from pipeline.guesses import GUESS_FROM, Guess, Open, Unread, Value
from pipeline.layouts import reps_lists
from pipeline.loadunits import plausible_unit, told_unit
from pipeline.mapping import SETS_COLUMN, Rows
from pipeline.markwords import (
    failure_values,
    flag_values,
    kind_readings,
    number_values,
    plain_values,
)
from pipeline.notation import NotationError, parse_column
from pipeline.numbers import Decimal
from pipeline.profiles import Profile, profiles_of
from pipeline.rules import Rules
from pipeline.sniffing import Sniffed, sniff
from pipeline.spelling import fold
from pipeline.units import KG_PER_LB, Unit
from pipeline.vocabulary import (
    EXACT,
    LANGUAGES,
    OTHER,
    SURE,
    HeaderReading,
    header_reading,
    load_vocabulary,
    main_languages,
)

_NUMBERED = (
    "reps",
    "load",
    "rir",
    "rpe",
    "effort",
    "partial_reps",
    "to_failure",
    "side",
    "load_unit",
    "set_kind",
    "warmup",
)
_REPS_MOST = 50
_FEW = 3
_EQUIPMENT = frozenset(
    (
        "equipment",
        "machine",
        "implement",
        "gerat",
        "hantel",
        "maschine",
        "materiel",
        "equipement",
        "equipo",
        "equipamiento",
        "equipamento",
        "aparelho",
        "attrezzo",
        "attrezzatura",
        "materiaal",
        "apparaat",
        "toestel",
    )
)


@dataclass(frozen=True)
class Draft:
    """What is known of an unknown export."""

    sniffed: Sniffed
    rows: Rows
    guesses: tuple[Guess, ...]
    opens: tuple[Open, ...]
    unread: tuple[Unread, ...]


def draft(data: bytes, shown: str, catalogue: Catalogue, rules: Rules, tomorrow: date) -> Draft:
    """The mapping of an unknown export. Raises ExportError, in one sentence, if it holds no log.

    `shown` is the file's name in messages; `tomorrow` the last day that is believed.
    """
    sniffed = sniff(data, shown)
    export = sniffed.export
    if not export.records.height:
        raise ExportError(
            f"{shown}: it holds a header and no line below it; nothing can be drafted."
        )
    vocabulary = load_vocabulary()
    headers = [
        replace(header_reading(name), name=name) if sniffed.has_header else HeaderReading(name)
        for name in export.header
    ]
    profiles, decimal, marks = profiles_of(
        export.records, headers, catalogue, vocabulary, rules.load_max_kg / KG_PER_LB, tomorrow
    )
    return _Drafter(sniffed, profiles, decimal, marks, shown).draft()


@dataclass
class _Drafter:
    """Decides field by field; each column is taken once."""

    sniffed: Sniffed
    profiles: list[Profile]
    decimal: Decimal
    decimal_marks: dict[str, int]
    shown: str
    guesses: list[Guess] = field(default_factory=list)
    opens: list[Open] = field(default_factory=list)
    taken: dict[str, str] = field(default_factory=dict)
    """Column to the field that it fills."""
    said: dict[str, str] = field(default_factory=dict)
    """Column to why it is not read."""
    rows: Rows = "sets"
    day: Profile | None = None
    exercise: Profile | None = None
    client: Profile | None = None
    loads: list[Profile] = field(default_factory=list)
    """Columns that hold loads, or lists of sets with loads."""

    def __post_init__(self) -> None:
        self.languages: Sequence[str] = main_languages(each.header for each in self.profiles)

    def draft(self) -> Draft:
        """All decisions, the needed fields first."""
        self._file()
        self._days()
        self._clients()
        self._exercises()
        if not (self._wide() or self._listed()):
            self._sets()
        self._efforts()
        self._kinds()
        self._beside()
        self._carried()
        self._units()
        self._decimals()
        unread = [
            Unread(each.name, self.said.get(each.name) or self._why_unread(each))
            for each in self.profiles
            if each.name not in self.taken
        ]
        return Draft(self.sniffed, self.rows, tuple(self.guesses), tuple(self.opens), tuple(unread))

    # Saying

    def _guess(self, section: str, key: str, value: Value, confidence: float, reason: str) -> None:
        self.guesses.append(Guess(section, key, value, round(min(confidence, 0.99), 2), reason))

    def _take(
        self, key: str, profile: Profile, confidence: float, why: str = "", name: str | None = None
    ) -> None:
        reason = "; ".join(part for part in (self._header_reason(profile), why) if part)
        self._guess("columns", key, name or profile.name, confidence, reason)
        self.taken[profile.name] = key

    def _ask(self, section: str, readings: Iterable[tuple[str, Value]], reason: str) -> None:
        self.opens.append(Open(section, tuple(readings), reason))

    def _header_reason(self, profile: Profile) -> str:
        header = profile.header
        if header.says_nothing:
            return "no known header word" if self.sniffed.has_header else "no header"
        named = [LANGUAGES[each] for each in LANGUAGES if each in header.languages]
        spoken = "/".join(named[:3]) if len(named) < 5 else "many languages"
        return f"header word ({spoken})" if named else "header"

    # Finding columns

    def _free(self) -> list[Profile]:
        return [each for each in self.profiles if each.name not in self.taken and each.counts]

    def _headed(
        self, fields: Sequence[str], fits: Callable[[Profile], float], least: float
    ) -> list[Profile]:
        """Free columns whose header names a field and whose cells allow it, best first."""
        found = [
            each
            for each in self._free()
            if each.header.strength(*fields) >= SURE
            and each.header.strength(*fields) >= each.header.strength(*each.header.strengths)
            and fits(each) >= least
        ]
        return sorted(
            found,
            key=lambda each: (
                -each.header.strength(*fields),
                -round(each.filled_share, 1),
                each.place,
            ),
        )

    def _only(self, key: str, found: list[Profile], *, is_needed: bool = True) -> Profile | None:
        """The best column, or None after asking which of several equal ones it is."""
        if not found:
            return None
        best = found[0]
        strength = best.header.strength(key)
        rivals = [
            each
            for each in found[1:]
            if each.header.strength(key) >= strength - 0.05
            and each.filled_share >= 0.3 * best.filled_share
            and not each.texts.equals(best.texts)
        ]
        if not rivals or not is_needed:
            return best
        options = [best, *rivals]
        listed = " and ".join(f"'{each.name}'" for each in options)
        self._ask(
            "columns",
            [(key, each.name) for each in options],
            f"the headers {listed} both name this field",
        )
        for each in options:
            self.taken[each.name] = key
        return None

    # The needed fields

    def _days(self) -> None:
        found = [each for each in self._free() if each.days is not None and each.days.share >= 0.5]
        if not found:
            raise ExportError(
                f"{self.shown}: no column holds calendar days with a year; if the day stands in "
                "several columns or in lines of its own, bring it into one column first."
            )

        def rank(each: Profile) -> tuple[float, ...]:
            is_other = each.header.strength(OTHER) >= SURE > each.header.strength("performed_on")
            return (
                -each.header.strength("performed_on") + is_other,
                -each.header.strength("started_at"),
                -round(each.filled_share, 1),
                each.place,
            )

        found.sort(key=rank)
        best = found[0]
        rivals = [each for each in found[1:] if rank(each)[:3] == rank(best)[:3]]
        rivals = [each for each in rivals if not _same_days(best, each)]
        if rivals:
            self._ask(
                "columns",
                [("performed_on", each.name) for each in (best, *rivals)],
                "several columns hold days, and they differ",
            )
            for each in rivals:
                self.taken[each.name] = "performed_on"
            self.taken[best.name] = "performed_on"
        else:
            form = best.days
            assert form is not None
            why = f"{form.share:.0%} of {best.filled} cells are days"
            empty = best.texts.len() - best.filled
            if not _is_carried(best) and empty > best.texts.len() // 50:
                why += f"; {empty} lines have no day and will be set aside"
            strength = best.header.strength("performed_on", "started_at")
            self._take("performed_on", best, 0.7 + 0.1 * strength + 0.19 * form.share, why)
        self.day = best
        self._date_format(best, "date")

    def _date_format(self, profile: Profile, key: str) -> None:
        form = profile.days
        if form is None:
            return
        if form.others:
            self._ask(
                "formats",
                [(key, each) for each in (form.pattern or "", *form.others)],
                f"column '{profile.name}': {form.reason}, such as '{next(iter(profile.counts))}'",
            )
        elif form.pattern is not None:
            example = next(iter(profile.counts))
            self._guess(
                "formats", key, form.pattern, form.confidence, f"'{example}': {form.reason}"
            )

    def _clients(self) -> None:
        found = self._headed(("client",), lambda each: not each.days and each.filled_share, 0.3)
        found = [each for each in found if each.known_share < 0.5]
        client = self._only("client", found)
        if client is not None:
            self.client = client
            self._take("client", client, 0.95, f"{len(client.counts)} spellings")

    def _exercises(self) -> None:
        def score(each: Profile) -> float:
            header = each.header.strength("exercise") + 0.4 * each.header.strength("name")
            elsewhere = max(
                (
                    value
                    for name, value in each.header.strengths.items()
                    if name not in ("exercise", "name")
                ),
                default=0.0,
            )
            return header + each.known_share - (0.7 * elsewhere if elsewhere > header else 0.0)

        texts = [each for each in self._free() if each.is_text and each.notation_share < 0.5]
        ranked = sorted(texts, key=lambda each: (-score(each), each.place))
        if not ranked:
            raise ExportError(
                f"{self.shown}: no column holds names of exercises; a mapping cannot be drafted."
            )
        best = ranked[0]
        known = f"{best.known_share:.0%} of its cells name known exercises"
        if best.header.strength("exercise") >= SURE or best.known_share >= 0.3:
            strength = best.header.strength("exercise")
            confidence = 0.55 + 0.25 * strength + 0.3 * best.known_share
            self._take("exercise", best, max(confidence, GUESS_FROM), known)
        else:
            silent = [each for each in ranked if not each.header.strengths or score(each) > 0.2]
            silent = [each for each in silent if len(each.counts) > 1][:_FEW] or [best]
            if len(silent) == 1:
                self._take("exercise", silent[0], GUESS_FROM, "the only column of words")
            else:
                self._ask(
                    "columns",
                    [("exercise", each.name) for each in silent],
                    "several columns hold words, and none names known lifts",
                )
                for each in silent:
                    self.taken[each.name] = "exercise"
            best = silent[0]
        self.exercise = best

    def _carried(self) -> None:
        """Fields that stand only on the first of the lines for which they hold."""
        fields = {"performed_on": self.day, "client": self.client, "exercise": self.exercise}
        found = {
            key: each
            for key, each in fields.items()
            if each is not None and key in self.taken.values() and _is_carried(each)
        }
        if found:
            named = " and ".join(f"'{each.name}'" for each in found.values())
            empty = max(each.texts.len() - each.filled for each in found.values())
            reason = f"up to {empty} lines have an empty {named}, below one that is filled"
            self._guess("layout", "carried", list(found), 0.85, reason)

    # Layouts

    def _wide(self) -> bool:
        """Numbered columns, if there are any that hold sets."""
        groups: dict[str, list[Profile]] = defaultdict(list)
        for each in self._free():
            if each.header.pattern is not None:
                groups[each.header.pattern].append(each)
        merged = {
            pattern: _merged(pattern, found)
            for pattern, found in groups.items()
            if len({each.header.number for each in found}) > 1
        }
        lists = [pattern for pattern, each in merged.items() if each.notation_share >= 0.5]
        if lists:
            self.rows = "exercises"
            self._take_numbered(lists[0], SETS_COLUMN, merged, groups, 0.9, "lists of sets")
            self.loads = [merged[lists[0]]]
            return True
        chosen: dict[str, str] = {}
        for pattern, each in merged.items():
            for name in _NUMBERED:
                is_named = each.header.strength(name) >= SURE and name not in chosen
                is_best = each.header.strength(name) >= each.header.strength(*each.header.strengths)
                if is_named and is_best and _fits(each, name):
                    chosen[name] = pattern
                    break
        unknown = [
            pattern
            for pattern, each in merged.items()
            if pattern not in chosen.values()
            and (each.header.says_nothing or each.header.strength("sets", "set_no") >= SURE)
            and each.number_share >= 0.8
        ]
        wholes = [each for each in unknown if merged[each].within(1, _REPS_MOST, whole=True) > 0.95]
        has_reps = bool(self._headed(("reps",), _reps_fit, 0.6))
        if "reps" not in chosen and wholes and not has_reps:
            chosen["reps"] = wholes[0]
            unknown.remove(wholes[0])
        if "reps" not in chosen:
            return False
        if "load" not in chosen and unknown:
            chosen["load"] = unknown[0]
        self.rows = "wide"
        effort = chosen.pop("effort", None)
        for name, pattern in chosen.items():
            key = "set_kind" if name == "warmup" else name
            self._take_numbered(pattern, key, merged, groups, 0.93, "numbered columns")
            if name == "load":
                self.loads = [merged[pattern]]
            self._translate(name, merged[pattern])
        if effort is not None:
            self._effort_reading(merged[effort], groups[effort], pattern=effort)
        if "load" not in chosen:
            self._load_column()
        return True

    def _take_numbered(
        self,
        pattern: str,
        key: str,
        merged: dict[str, Profile],
        groups: dict[str, list[Profile]],
        confidence: float,
        why: str,
    ) -> None:
        numbers = sorted(each.header.number or 0 for each in groups[pattern])
        self._take(
            key, merged[pattern], confidence, f"{why} {numbers[0]} to {numbers[-1]}", pattern
        )
        for each in self.profiles:
            if each.header.pattern == pattern:
                self.taken[each.name] = key

    def _listed(self) -> bool:
        """A cell that lists the sets, with or without loads in it."""
        noted = [
            each
            for each in self._free()
            if each.notation_share >= 0.5 and each.header.strength("notes") < SURE
        ]
        noted.sort(key=lambda each: (-each.header.strength("sets"), -each.notation_share))
        if noted:
            self.rows = "exercises"
            best = noted[0]
            self._take(
                SETS_COLUMN,
                best,
                0.75 + 0.2 * best.notation_share,
                f"{best.notation_share:.0%} of its cells list sets with loads",
            )
            self.loads = [best]
            return True
        lists = [
            each
            for each in self._free()
            if each.header.strength("reps", "sets", "set_no") >= SURE or each.header.says_nothing
        ]
        lists = [each for each in lists if self._lists_reps(each)]
        lists.sort(key=lambda each: (-each.header.strength("reps", "sets"), -each.list_share))
        if not lists:
            return False
        self.rows = "exercises"
        best = lists[0]
        self._take(SETS_COLUMN, best, 0.85, f"{best.list_share:.0%} of its cells list repetitions")
        if not self._load_column():
            self._guess("constants", "load", "bw", GUESS_FROM, "no column holds loads")
        self._check_counts(best)
        return True

    def _check_counts(self, lists: Profile) -> None:
        """Asks where a column of set counts says another number than the cells list."""
        for each in self._headed(("set_count", "sets"), lambda each: each.number_share, 0.9):
            counts = {text: number.value for text, number in each.numbers.items()}
            listed = {
                text: len(found)
                for text, found in reps_lists(list(lists.counts)).items()
                if not isinstance(found, NotationError)
            }
            frame = pl.DataFrame({"lists": lists.texts, "counts": each.texts}).select(
                pl.col("lists").replace_strict(
                    list(listed), list(listed.values()), default=None, return_dtype=pl.Float64
                ),
                pl.col("counts").replace_strict(
                    list(counts), list(counts.values()), default=None, return_dtype=pl.Float64
                ),
            )
            differing = frame.filter(pl.col("lists") != pl.col("counts")).height
            if differing:
                self.guesses = [one for one in self.guesses if one.key != SETS_COLUMN]
                self._ask(
                    "columns",
                    [(SETS_COLUMN, lists.name)],
                    f"in {differing} lines '{lists.name}' lists another number of sets than "
                    f"'{each.name}' says; so they would load as listed",
                )
            self.said[each.name] = f"'{lists.name}' lists the sets"
            return

    def _lists_reps(self, each: Profile) -> bool:
        """Whether cells list reps; two numbers with a comma may be one number."""
        if each.list_share < 0.3 or each.list_share + each.within(1, 100, whole=True) < 0.8:
            return False
        plain = re.compile(r"[0-9]+[,.][0-9]+")
        return each.share(lambda text: bool(plain.fullmatch(text))) < 0.8 * each.list_share

    def _sets(self) -> None:
        """A row is one set, or several alike."""
        self._numberings()
        reps = self._headed(("reps",), _reps_fit, 0.6)
        if not reps:
            self._by_cells()
            return
        chosen = self._only("reps", reps)
        if chosen is not None:
            share = _reps_fit(chosen)
            self._take(
                "reps",
                chosen,
                0.5 + 0.3 * chosen.header.strength("reps") + 0.19 * share,
                f"{share:.0%} of its cells are whole numbers up to 100",
            )
            self._translate("reps", chosen)
        if not self._load_column():
            self._load_by_cells()

    def _load_column(self) -> bool:
        """The load by its header; two columns of one load in two units count as one."""
        found = self._headed(("load",), lambda each: _fits(each, "load"), 0.5)
        if not found:
            return any(key == "load" for key in self.taken.values())
        twins = [each for each in found[1:] if _converts(found[0], each)]
        for each in twins:
            self.said[each.name] = f"the load of '{found[0].name}' in another unit"
        best = self._only("load", [each for each in found if each not in twins])
        self.loads = [best] if best is not None else found
        if best is not None:
            self._take(
                "load",
                best,
                0.5 + 0.3 * best.header.strength("load") + 0.19,
                f"numbers from {best.quantile(0):g} to {best.quantile(1):g}",
            )
        for each in self.loads:
            self._translate("load", each)
        return True

    def _numberings(self) -> None:
        """A column "sets": which set of the exercise it is, or how many alike sets."""
        found = self._headed(
            ("set_no", "set_count", "sets"),
            lambda each: each.number_share >= 0.9 and each.within(0, 40, whole=True),
            0.95,
        )
        for each in found:
            self._numbering(each)

    def _numbering(self, each: Profile) -> None:
        if any(key in ("set_no", "set_count") for key in self.taken.values()):
            return
        counted, numbered = self._numbering_votes(each)
        if not counted and not numbered:
            counted += each.header.strength("set_count") >= EXACT
            numbered += not counted
        if counted and numbered and min(counted, numbered) > 0.15 * max(counted, numbered):
            self._ask(
                "columns",
                [("set_no", each.name), ("set_count", each.name)],
                f"column '{each.name}' may count a line's sets or number them",
            )
            self.taken[each.name] = "set_no"
        elif numbered >= counted:
            self._take("set_no", each, 0.95, "it counts up within an exercise of a day")
        else:
            self._take(
                "set_count",
                each,
                0.9,
                "a line stands for so many alike sets: it does not "
                "count up within an exercise of a day",
            )

    def _numbering_votes(self, each: Profile) -> tuple[int, int]:
        """Groups of one day and exercise that speak for a count of sets, and for their numbers."""
        keys = [column for column in (self.client, self.day, self.exercise) if column is not None]
        read = {text: number.value for text, number in each.numbers.items()}
        frame = pl.DataFrame({f"k{n}": column.texts for n, column in enumerate(keys)}).with_columns(
            each.texts.replace_strict(
                list(read), list(read.values()), default=None, return_dtype=pl.Float64
            ).alias("value")
        )
        groups = (
            frame.drop_nulls("value")
            .group_by([name for name in frame.columns if name != "value"])
            .agg(
                pl.col("value").n_unique().alias("distinct"),
                (pl.col("value").max() - pl.col("value").min()).alias("span"),
                pl.col("value").min().alias("low"),
            )
        )
        several = pl.col("distinct") > 1
        runs = groups.filter(several & (pl.col("span") == pl.col("distinct") - 1)).height
        jumps = groups.filter(several & (pl.col("span") != pl.col("distinct") - 1)).height
        alike = groups.filter(~several & (pl.col("low") > 1)).height
        return jumps + alike, runs

    # Columns without a header that tells

    def _numeric_free(self) -> list[Profile]:
        return [
            each
            for each in self._free()
            if each.number_share >= 0.5 and each.days is None and each.header.says_nothing
        ]

    def _by_cells(self) -> None:
        """Reps and load where no header names the reps."""
        for each in self._numeric_free():
            counted, numbered = self._numbering_votes(each)
            is_number = each.within(1, 30, whole=True) > 0.98 and each.quantile(0) <= 1
            if is_number and numbered > _FEW and numbered > 6 * counted:
                self._numbering(each)
                break
        self._load_column()
        has_load = "load" in self.taken.values()
        candidates = self._numeric_free()
        weights = [each for each in candidates if self._is_bodyweight(each)]
        candidates = [each for each in candidates if each not in weights]
        reps = sorted((each for each in candidates if _reps_score(each) > 0.6), key=_reps_score)
        reps.reverse()
        if not reps:
            reps = [each for each in self._free() if each.number_share and _reps_score(each) > 0.6]
            self._ask_reps(reps)
            return
        if not has_load and len(candidates) > 1:
            self._load_by_cells(besides=reps[0], candidates=candidates)
            reps = [each for each in reps if each.name not in self.taken]
        close = [each for each in reps[1:] if _reps_score(each) > _reps_score(reps[0]) - 0.12]
        if close and reps:
            self._ask_reps([reps[0], *close])
        elif reps:
            self._take("reps", reps[0], 0.82, "whole numbers as sets have repetitions")
        for each in weights:
            self._take("bodyweight", each, GUESS_FROM, "one value a day that hardly changes")

    def _ask_reps(self, found: list[Profile]) -> None:
        """Leaves the reps open; raises ExportError if no column may hold them."""
        options = found[:_FEW]
        if not options:
            raise ExportError(
                f"{self.shown}: no column holds repetitions (whole numbers up to 100) or lists of "
                "sets; a mapping cannot be drafted."
            )
        listed = " or ".join(f"'{each.name}'" for each in options)
        self._ask(
            "columns",
            [("reps", each.name) for each in options],
            f"{listed} may hold the repetitions, and no header says so",
        )
        for each in options:
            self.taken[each.name] = "reps"

    def _load_by_cells(
        self, besides: Profile | None = None, candidates: list[Profile] | None = None
    ) -> None:
        """The load among columns that no header names; left open where two are alike."""
        found = self._numeric_free() if candidates is None else candidates
        found = [each for each in found if each is not besides]
        scored = sorted(((self._load_score(each), -each.place, each) for each in found), key=_first)
        scored.reverse()
        scored = [each for each in scored if each[0] > 0.35]
        if not scored:
            return
        best = scored[0][2]
        close = [each for score, _, each in scored[1:] if score > scored[0][0] - 0.15]
        if close:
            options = [best, *close][:_FEW]
            listed = ", ".join(f"'{each.name}'" for each in options)
            self._ask(
                "columns",
                [("load", each.name) for each in options],
                f"the columns {listed} may all be the load",
            )
            for each in options:
                self.taken[each.name] = "load"
            self.loads = options
        else:
            self._take("load", best, 0.82, "numbers that differ by exercise, in steps of plates")
            self.loads = [best]
        for each in self.loads:
            self._translate("load", each)

    def _load_score(self, each: Profile) -> float:
        """How much like loads the numbers are: 0 to 1."""
        if each.quantile(1) <= 12 or each.within(-200, 1200) < 0.98:
            return 0.0
        steps = sum(times for value, times in each.values.items() if value * 4 % 5 == 0) / max(
            sum(each.values.values()), 1
        )
        return 0.5 * self._explained(each) + 0.3 * steps + 0.2 * min(len(each.values) / 8, 1)

    def _explained(self, each: Profile) -> float:
        """Share of the variance that the exercise explains (eta squared), 0 to 1."""
        if self.exercise is None:
            return 0.0
        read = {text: number.value for text, number in each.numbers.items()}
        frame = (
            pl.DataFrame({"exercise": self.exercise.texts, "text": each.texts})
            .select(
                "exercise",
                pl.col("text")
                .replace_strict(
                    list(read), list(read.values()), default=None, return_dtype=pl.Float64
                )
                .alias("value"),
            )
            .drop_nulls()
        )
        total = frame.select((pl.col("value") - pl.col("value").mean()).pow(2).sum()).item()
        if not total:
            return 0.0
        within = frame.select(
            (pl.col("value") - pl.col("value").mean().over("exercise")).pow(2).sum()
        ).item()
        return float(max(0.0, 1 - within / total))

    def _is_bodyweight(self, each: Profile) -> bool:
        """One value a day, of a human's weight, that hardly changes; over four days or more."""
        if self.day is None or each.within(35, 400) < 0.98 or self._explained(each) > 0.5:
            return False
        days = pl.DataFrame({"day": self.day.texts, "text": each.texts}).drop_nulls()
        per_day = days.group_by("day").agg(pl.col("text").n_unique().alias("distinct"))
        low, high = each.quantile(0.02), each.quantile(0.98)
        is_steady = high <= 1.2 * low
        return per_day.height > _FEW and is_steady and bool((per_day["distinct"] == 1).all())

    # Effort

    def _efforts(self) -> None:
        for key in ("rir", "rpe"):
            found = self._headed((key,), lambda each: _fits(each, "effort"), 0.5)
            if found and key not in self.taken.values():
                self._effort_reading(found[0], found[:1], named=key)
        if {"rir", "rpe"} & set(self.taken.values()):
            return
        found = self._headed(("effort",), lambda each: _fits(each, "effort"), 0.5)
        if found:
            self._effort_reading(found[0], found[:1])
            return
        for each in self._numeric_free():
            if each.within(0, 10) > 0.98 and len(each.values) > 2 and not self.sniffed.has_header:
                self._effort_reading(each, [each])
                return

    def _effort_reading(
        self,
        each: Profile,
        columns: list[Profile],
        *,
        named: str | None = None,
        pattern: str | None = None,
    ) -> None:
        """RIR or RPE: by the header, checked by the values; else by the values, if they tell."""
        low, middle, high = (each.quantile(at) for at in (0.02, 0.5, 0.98))
        spread = f"values {low:g} to {high:g}, half of them at or below {middle:g}"
        reads_rir = high <= 5 and (low < 1 or middle <= 3)
        reads_rpe = low >= 5 and high <= 10 and middle >= 6
        name = pattern or each.name
        for key in ("rir", "rpe"):
            if each.share(lambda text, key=key: key in text.casefold()) > 0.5:  # type: ignore[misc]
                self._take(key, each, 0.95, f"its cells say {key.upper()}", name)
                self._translate(key, each)
                return
        if named == "rir" and not (reads_rpe and middle >= 7):
            key, confidence = "rir", 0.97
        elif named == "rpe" and not (reads_rir and low < 1):
            key, confidence = "rpe", 0.97
        elif named is None and reads_rir and low < 1:
            key, confidence = "rir", 0.85
        elif named is None and reads_rpe:
            key, confidence = "rpe", 0.85
        else:
            first, second = ("rpe", "rir") if reads_rpe or named == "rpe" else ("rir", "rpe")
            self._ask(
                "columns",
                [(first, name), (second, name)],
                f"column '{each.name}' may be reps in reserve or perceived exertion ({spread})",
            )
            for column in columns:
                self.taken[column.name] = first
            self._translate_both(each)
            return
        self._take(key, each, confidence, spread, name)
        for column in columns:
            self.taken[column.name] = key
        self._translate(key, each)

    def _translate_both(self, each: Profile) -> None:
        for key in ("rir", "rpe"):
            self._translate(key, each)

    # Marks

    def _kinds(self) -> None:
        if "set_kind" in self.taken.values():
            return
        meanings = ("warmup", "work", "extension", "failure")
        for key, flag in (("set_kind", None), ("warmup", "warmup"), ("extension", "extension")):
            for each in self._headed((key,), lambda each: bool(each.counts), 1.0):
                if key == "set_kind" and each.number_share > 0.5:
                    continue
                if flag and each.mark_share("true", "false") >= 0.8:
                    self._take("set_kind", each, 0.9, "a mark on the lines that are one")
                    self._values("set_kind", flag_values(each, flag, self.languages))
                    return
                if self._takes_kind(each, each.mark_share(*meanings)):
                    return
        for each in self._free():
            is_silent = each.header.says_nothing and each.is_text and len(each.counts) <= 8
            is_marked = is_silent and each.mark_share(*meanings) >= 0.9
            if is_marked and each.mark_share("warmup", "extension"):
                self._takes_kind(each, 1.0)
                return

    def _takes_kind(self, each: Profile, share: float) -> bool:
        tells = each.mark_share("warmup", "extension", "failure") > 0 and len(each.counts) > 1
        is_called = each.header.strength("set_kind") >= EXACT and len(each.counts) <= 8
        if share < 0.5 and not (is_called and tells):
            return False
        told, asked = kind_readings(each, self.languages, self._kinds_by_loads(each))
        self._take(
            "set_kind",
            each,
            max(0.6 + 0.35 * share, GUESS_FROM),
            f"{share:.0%} of its cells are marks of warm-ups, work sets or drops",
        )
        self._values("set_kind", told)
        for mark, kinds in asked.items():
            self._ask(
                "values.set_kind",
                [(mark, kind) for kind in kinds],
                f"the mark '{mark}' of column '{each.name}' ({each.counts[mark]} cells) may "
                "mean more than one kind of set",
            )
        failures = failure_values(each, self.languages)
        if failures and "to_failure" not in self.taken.values():
            self._guess(
                "columns",
                "to_failure",
                each.name,
                0.85,
                "some of its marks say that a set went to failure",
            )
            self._values("to_failure", failures)
        return True

    def _kinds_by_loads(self, each: Profile) -> dict[str, str]:
        """Marks on the lighter, earlier sets of an exercise and on the heavier, later ones."""
        if self.rows != "sets" or len(self.loads) != 1 or not self.day or not self.exercise:
            return {}
        load = self.loads[0]
        read = {text: number.value for text, number in load.numbers.items()}
        frame = pl.DataFrame(
            {
                "day": self.day.texts.forward_fill(),
                "lift": self.exercise.texts.forward_fill(),
                "mark": each.texts.fill_null(""),
                "load": load.texts.replace_strict(
                    list(read), list(read.values()), default=None, return_dtype=pl.Float64
                ),
            }
        ).with_row_index("at")
        group = ["day", "lift"]
        backwards = self._runs_backwards()
        marks = (
            frame.drop_nulls("load")
            .group_by([*group, "mark"])
            .agg(pl.col("load").mean(), pl.col("at").mean())
            .with_columns(pl.when(backwards).then(-pl.col("at")).otherwise("at").alias("at"))
        )
        pairs = marks.join(marks, on=group, suffix="_other").filter(
            (pl.col("mark") != pl.col("mark_other"))
            & ((pl.col("load") - pl.col("load_other")).abs() > 0.1 * pl.col("load"))
        )
        extensions = [text for text in each.counts if self._is_extension(each, text)]
        pairs = pairs.filter(
            ~pl.col("mark").is_in(extensions) & ~pl.col("mark_other").is_in(extensions)
        )
        lighter = (pl.col("load") < pl.col("load_other")) & (pl.col("at") < pl.col("at_other"))
        heavier = (pl.col("load") > pl.col("load_other")) & (pl.col("at") > pl.col("at_other"))
        shares = pairs.group_by("mark").agg(
            lighter.mean().alias("lighter"), heavier.mean().alias("heavier"), pl.len()
        )
        found: dict[str, str] = {}
        for mark, light, heavy, times in shares.iter_rows():
            if times >= _FEW and light >= 0.8:
                found[mark] = "warmup"
            elif times >= _FEW and heavy >= 0.8:
                found[mark] = "work"
        return found

    def _is_extension(self, each: Profile, text: str) -> bool:
        found = each.vocabulary.meanings(text, self.languages)
        return "extension" in found and not found & {"warmup", "work"}

    def _runs_backwards(self) -> bool:
        """Whether the file's last line is the oldest."""
        numbers = next(
            (each for each in self.profiles if self.taken.get(each.name) == "set_no"), None
        )
        if numbers is None or not self.exercise:
            return False
        read = {text: number.value for text, number in numbers.numbers.items()}
        values = numbers.texts.replace_strict(
            list(read), list(read.values()), default=None, return_dtype=pl.Float64
        )
        same = self.exercise.texts == self.exercise.texts.shift()
        steps = values.diff().filter(same.fill_null(False)).drop_nulls().sign()
        return float(steps.sum()) < 0

    def _values(self, key: str, table: dict[str, tuple[str, str]]) -> None:
        for text, (value, reason) in table.items():
            self._guess(f"values.{key}", text, value, 0.9, reason)

    def _translate(self, key: str, each: Profile) -> None:
        """What the ledger is to read for words and for cells that are no plain number."""
        if key in ("load", "reps", "rir", "rpe"):
            self._values(key, number_values(each, key))
        elif key in ("warmup", "set_kind"):
            told, _ = kind_readings(each, self.languages, {})
            flagged = flag_values(each, "warmup", self.languages) if key == "warmup" else {}
            self._values("set_kind", flagged or told)
        elif key in ("side", "load_unit", "to_failure"):
            self._values(key, plain_values(each, key, self.languages))

    # What stands beside

    def _beside(self) -> None:
        self._starts()
        self._marked("side", ("left", "right", "both"), is_by_cells=True)
        self._marked("load_unit", ("kg", "lb"), is_by_cells=True)
        if "to_failure" not in {each.key for each in self.guesses if each.section == "columns"}:
            self._marked("to_failure", ("true", "false"), is_by_cells=False)
        self._first("partial_reps", lambda each: each.number_share * each.within(0, 100), 0.7)
        self._first("bodyweight", lambda each: each.number_share * each.within(30, 400), 0.7)
        self._first("notes", lambda each: 1.0, 0.5)
        self._names()

    def _first(self, key: str, fits: Callable[[Profile], float], least: float) -> None:
        found = self._headed((key,), fits, least)
        if found and key not in self.taken.values():
            self._take(key, found[0], 0.6 + 0.35 * found[0].header.strength(key))
            if key == "bodyweight" and found[0].header.unit:
                unit = found[0].header.unit
                self._guess("formats", "bodyweight_unit", unit, 0.98, "the header names it")

    def _starts(self) -> None:
        if self.day is not None and self.day.days is not None and self.day.days.has_clock:
            return
        found = self._headed(
            ("started_at", "performed_on"),
            lambda each: max(
                each.clock_share * _waking_share(each),
                each.days.share if each.days and each.days.has_clock else 0.0,
            ),
            0.8,
        )
        if not found:
            found = [
                each
                for each in self._free()
                if each.header.says_nothing
                and each.clock_share >= 0.9
                and _waking_share(each) >= 0.95
            ]
        if found:
            self._take("started_at", found[0], 0.9, "clock times")
            if found[0].days is not None and found[0].clock_share < 0.5:
                self._date_format(found[0], "started_at")

    def _marked(self, key: str, meanings: tuple[str, ...], *, is_by_cells: bool) -> None:
        if key in self.taken.values():
            return
        found = self._headed((key,), lambda each: each.mark_share(*meanings), 0.7)
        if not found and is_by_cells:
            found = [
                each
                for each in self._free()
                if each.header.says_nothing
                and each.is_text
                and each.mark_share(*meanings) >= 0.95
                and (key != "side" or (each.mark_share("left") and each.mark_share("right")))
            ]
        if found:
            self._take(
                key,
                found[0],
                0.9,
                f"{found[0].mark_share(*meanings):.0%} of its cells are {' or '.join(meanings)}",
            )
            self._translate(key, found[0])

    def _names(self) -> None:
        """A column "Name" beside the exercise, or nameless words: whose sets, or a session?"""
        if self.client is not None or "client" in self.taken.values():
            return
        for each in self._free():
            is_called = each.header.strength("name") >= SURE
            is_silent = each.header.says_nothing and not self.sniffed.has_header
            if not (is_called or is_silent) or not each.is_text or len(each.counts) < 2:
                continue
            if (
                each.filled_share > 0.9
                and each.share(self._is_person) > 0.9
                and len(each.counts) <= 60
            ):
                self._ask(
                    "columns",
                    [("client", each.name), ("notes", each.name)],
                    f"column '{each.name}' may name whose sets these are, or a session",
                )
                self.taken[each.name] = "client"
                return

    def _is_person(self, text: str) -> bool:
        """Whether a text looks like a person's name: one to four capitalised words."""
        words = text.replace("-", " ").split()
        muscles = self.profiles[0].catalogue.muscles
        known = {fold(each.label) for each in muscles} | {each.body_part for each in muscles}
        return (
            1 <= len(words) <= 4
            and all(word[0].isupper() and word.rstrip(".").isalpha() for word in words)
            and not _SESSION_WORDS.search(text)
            and fold(text) not in known
        )

    # Units and marks

    def _units(self) -> None:
        if not self.loads or "load_unit" in self.taken.values():
            return
        named = {each.header.unit for each in self.loads} - {None}
        bare, units, values = self._load_cells()
        if len(named) == 1 and len(self.loads) == 1:
            self._unit(named.pop(), 0.98, "the header names it")
        elif not bare:
            return
        elif len(units) == 1:
            self._unit(units.pop(), 0.85, "the cells that name a unit name this one")
        elif not units:
            self._unit_elsewhere(values)
        else:
            self._ask_unit("its cells name both kg and lb, and some name none")

    def _unit(self, unit: Unit | None, confidence: float, reason: str) -> None:
        self._guess("formats", "load_unit", unit or "kg", confidence, reason)

    def _ask_unit(self, reason: str, first: Unit = "kg") -> None:
        listed = " or ".join(f"'{each.name}'" for each in self.loads)
        second: Unit = "lb" if first == "kg" else "kg"
        self._ask(
            "formats", [("load_unit", first), ("load_unit", second)], f"column {listed}: {reason}"
        )

    def _unit_elsewhere(self, values: dict[float, int]) -> None:
        told = told_unit(self.sniffed.preamble)
        others = {each.header.unit for each in self.profiles if each not in self.loads} - {None}
        if told is not None:
            self._unit(told, 0.85, "a line above the header names it")
        elif len(others) == 1:
            self._unit(others.pop(), 0.85, "another column's header names it")
        else:
            has_comma = self.decimal_marks.get(",", 0) > self.decimal_marks.get(".", 0)
            unit, confidence, reason = plausible_unit(values, self.languages, has_comma)
            if confidence >= GUESS_FROM:
                self._unit(unit, confidence, f"a guess: {reason}")
            else:
                self._ask_unit(f"it says neither kg nor lb; {reason}", unit)

    def _load_cells(self) -> tuple[bool, set[Unit], dict[float, int]]:
        """Whether some load names no unit, the units that cells name, and the bare loads."""
        units: set[Unit] = set()
        values: dict[float, int] = defaultdict(int)
        for each in self.loads:
            if each.notation_share >= 0.5:
                for cell, found in parse_column(each.counts).items():
                    for noted in () if isinstance(found, NotationError) else found:
                        if noted.unit:
                            units.add(noted.unit)
                        elif noted.load:
                            values[noted.load] += each.counts[cell]
                continue
            for text, number in each.numbers.items():
                if number.unit:
                    units.add(number.unit)
                elif number.value:
                    values[number.value] += each.counts[text]
        return bool(values), units, values

    def _decimals(self) -> None:
        marks = {mark: times for mark, times in self.decimal_marks.items() if times}
        if len(marks) == 1 and self.rows != "exercises" and self.sniffed.delimiter not in marks:
            mark, times = next(iter(marks.items()))
            named = "comma" if mark == "," else "point"
            self._guess("file", "decimal", mark, 0.97, f"{times} different numbers have a {named}")
            return
        grouped = re.compile(r"[1-9],[0-9]{3}")
        for each in self.loads if not marks else ():
            shown = [text for text in each.counts if grouped.fullmatch(text)]
            if shown:
                self._ask(
                    "file",
                    [("decimal", "."), ("decimal", ",")],
                    f"column '{each.name}': '{shown[0]}' may be a thousand or a decimal",
                )
                return

    def _file(self) -> None:
        found = self.sniffed
        self._guess("file", "encoding", _lasting(found.encoding), 0.97, found.encoding_reason)
        self._guess(
            "file",
            "delimiter",
            found.delimiter,
            0.8 + 0.19 * found.delimiter_share,
            f"{found.delimiter_share:.0%} of the lines have the same number of cells",
        )
        if found.quote != '"':
            self._guess("file", "quote", found.quote, 0.9, "cells stand between such marks")

    def _why_unread(self, each: Profile) -> str:
        if not each.counts:
            return "it is empty"
        header = each.header
        if header.strength("load", "reps") >= SURE:
            return "another column fills the field"
        if set(re.findall(r"\w+", header.name.casefold())) & _EQUIPMENT:
            return (
                "names are not joined with it; if it tells a dumbbell from a barbell lift, say so "
                "under [values.exercise]"
            )
        if header.strength(OTHER) >= SURE:
            return "nothing that the ledger holds"
        if header.says_nothing:
            return "its header and its cells tell nothing that the ledger holds"
        return "its cells do not fit what its header says, or another column fills the field"


def _is_carried(each: Profile) -> bool:
    """Whether a value stands only on the first of its lines: it hardly repeats the one before."""
    filled = each.texts.drop_nulls()
    repeats = int((filled == filled.shift()).sum())
    has_first = each.texts.len() > 0 and each.texts[0] is not None
    return (
        has_first and each.filled_share < 0.7 and filled.len() > 1 and repeats <= each.filled // 20
    )


def _first(each: tuple[float, int, Profile]) -> tuple[float, int]:
    return each[0], each[1]


def _lasting(encoding: str) -> str:
    """The encoding for later exports too: a byte order mark is read past anyway."""
    return {"utf-8-sig": "utf-8", "iso8859-1": "latin-1"}.get(encoding, encoding)


def _same_days(one: Profile, other: Profile) -> bool:
    from pipeline.days import read_by_format, read_moment

    def read(each: Profile) -> pl.Series:
        form = each.days
        pattern = form.pattern if form else None
        days = {
            text: found.day
            for text in each.counts
            if (found := read_by_format(text, pattern) if pattern else read_moment(text))
        }
        return each.texts.replace_strict(
            list(days), list(days.values()), default=None, return_dtype=pl.Date
        )

    return bool((read(one) == read(other)).fill_null(True).all())


def _merged(pattern: str, columns: list[Profile]) -> Profile:
    """Numbered columns as one."""
    counts: dict[str, int] = defaultdict(int)
    for each in columns:
        for text, times in each.counts.items():
            counts[text] += times
    first = columns[0]
    return replace(
        first,
        name=pattern,
        texts=pl.concat([each.texts.rename("text") for each in columns]),
        counts=dict(sorted(counts.items(), key=lambda item: (-item[1], item[0]))),
    )


def _reps_fit(each: Profile) -> float:
    """Share of the cells that are repetitions, or become so by [values.reps]."""
    words = number_values(each, "reps")
    plain = each.number_share * each.within(0, 100, whole=True)
    return plain + each.share(lambda text: text in words)


def _fits(each: Profile, name: str) -> float:
    """Whether the cells may be what the header says: 0 to 1."""
    if name == "reps":
        return _reps_fit(each) >= 0.6
    if name == "load":
        words = number_values(each, "load")
        return (each.days is None) and (each.number_share + each.share(lambda text: text in words))
    if name in ("rir", "rpe", "effort"):
        words = number_values(each, "rir") | number_values(each, "rpe")
        share = each.number_share + each.share(lambda text: text in words or text.endswith("+"))
        return share if each.within(0, 20) > 0.9 or not each.values else 0.0
    if name == "partial_reps":
        return each.number_share
    marks = {
        "side": ("left", "right", "both"),
        "load_unit": ("kg", "lb"),
        "to_failure": ("true", "false"),
        "set_kind": ("warmup", "work", "extension", "failure"),
        "warmup": ("true", "false", "warmup", "work"),
    }
    return each.mark_share(*marks[name])


def _reps_score(each: Profile) -> float:
    """How much like repetitions the numbers are: 0 to 1."""
    if each.within(0, _REPS_MOST, whole=True) < 0.97 or each.number_share < 0.8:
        return 0.0
    usual = each.within(3, 20)
    zeros = each.within(0, 0)
    return 0.7 * usual + 0.3 * min(len(each.values) / 5, 1) - zeros


def _converts(one: Profile, other: Profile) -> bool:
    """Whether two columns hold one load in two units, line by line."""

    def read(each: Profile) -> pl.Series:
        table = {text: number.value for text, number in each.numbers.items()}
        return each.texts.replace_strict(
            list(table), list(table.values()), default=None, return_dtype=pl.Float64
        )

    frame = pl.DataFrame({"one": read(one), "other": read(other)}).drop_nulls()
    frame = frame.filter((pl.col("one") > 10) & (pl.col("other") > 10))
    if frame.height < _FEW:
        return False
    ratio = frame.select((pl.col("one") / pl.col("other")).median()).item()
    return any(abs(ratio / each - 1) < 0.03 for each in (KG_PER_LB, 1 / KG_PER_LB))


def _waking_share(each: Profile) -> float:
    """Share of clock times between 4 and 24 o'clock: durations are mostly shorter."""
    return each.share(
        lambda text: (
            (match := re.match(r"\d{1,2}", text)) is not None
            and (int(match[0]) >= 4 or "p" in text.casefold())
        ),
        300,
    )


_SESSION_WORDS = re.compile(
    r"\b(?:day|tag|jour|dia|día|giorno|dag|push|pull|legs?|upper|lower|full|workout|training|"
    r"session|beine?|oberkörper|unterkörper|ganzkörper|treino|pierna|gambe|rutina|week|gym|"
    r"chest|back|arms?|shoulders?|brust|rücken|arme|schultern?|[a-d])\b",
    re.IGNORECASE,
)
