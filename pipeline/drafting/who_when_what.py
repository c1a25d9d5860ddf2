"""What every mapping needs besides the sets: the day, whose sets they are, the exercise."""

from __future__ import annotations

from pipeline.drafting.column_profiles import Column
from pipeline.drafting.draft import FEW, GUESS_FROM, Draft, days_of
from pipeline.drafting.header_words import OTHER, SURE, header_reading
from pipeline.drafting.split_dates import takes_day_parts, takes_yearless, why_no_days
from pipeline.errors import ExportError
from pipeline.reading.whose import labelled


def find_days(draft: Draft) -> None:
    found = [each for each in draft.free() if each.days is not None and each.days.share >= 0.5]
    if not found:
        if not (takes_day_parts(draft) or takes_yearless(draft)):
            raise ExportError(f"{draft.shown}: {why_no_days(draft)}")
        return

    def rank(column: Column) -> tuple[float, ...]:
        is_other = column.header.strength(OTHER) >= SURE > column.header.strength("performed_on")
        return (
            -column.header.strength("performed_on") + is_other,
            -column.header.strength("started_at"),
            -round(column.filled_share, 1),
            column.place,
        )

    found.sort(key=rank)
    best = found[0]
    rivals = [each for each in found[1:] if rank(each)[:3] == rank(best)[:3]]
    rivals = [each for each in rivals if not _same_days(best, each)]
    if rivals:
        draft.ask(
            "columns",
            [("performed_on", each.name) for each in (best, *rivals)],
            "several columns hold days, and they differ",
        )
        for each in rivals:
            draft.taken[each.name] = "performed_on"
        draft.taken[best.name] = "performed_on"
    else:
        form = best.days
        assert form is not None
        why = f"{form.share:.0%} of {best.filled} cells are days"
        empty = best.texts.len() - best.filled
        if not _is_carried(best) and empty > best.texts.len() // 50:
            why += f"; {empty} lines have no day and will be set aside"
        strength = best.header.strength("performed_on", "started_at")
        draft.take("performed_on", best, 0.7 + 0.1 * strength + 0.19 * form.share, why)
    draft.day = best
    take_date_format(draft, best, "date")


def take_date_format(draft: Draft, column: Column, key: str) -> None:
    form = column.days
    if form is None:
        return
    if form.others:
        draft.ask(
            "formats",
            [(key, each) for each in (form.pattern or "", *form.others)],
            f"column '{column.name}': {form.reason}, such as '{next(iter(column.counts))}'",
        )
    elif form.pattern is not None:
        example = next(iter(column.counts))
        draft.guess("formats", key, form.pattern, form.confidence, f"'{example}': {form.reason}")


def find_clients(draft: Draft) -> None:
    found = draft.headed(("client",), lambda each: not each.days and each.filled_share, 0.3)
    found = [each for each in found if each.known_share < 0.5]
    client = draft.best_or_ask("client", found)
    if client is not None:
        draft.client = client
        draft.take("client", client, 0.95, f"{len(client.counts)} spellings")


def find_client_label(draft: Draft) -> None:
    """The line above the header that names the client, where no column does."""
    if draft.client is not None or "client" in draft.taken.values():
        return
    for line in draft.sniffed.preamble:
        found = labelled(line, draft.sniffed.delimiter)
        if found is None:
            continue
        label, name = found
        is_name = 1 <= len(name.split()) <= 4 and not any(each.isdigit() for each in name)
        if is_name and header_reading(label).strength("client", "name") >= SURE:
            draft.guess("client", "label", label, 0.9, f"a line above the header names '{name}'")
            return


def find_exercises(draft: Draft) -> None:
    def score(column: Column) -> float:
        header = column.header.strength("exercise") + 0.4 * column.header.strength("name")
        elsewhere = max(
            (
                value
                for name, value in column.header.strengths.items()
                if name not in ("exercise", "name")
            ),
            default=0.0,
        )
        return header + column.known_share - (0.7 * elsewhere if elsewhere > header else 0.0)

    texts = [each for each in draft.free() if each.is_text and each.notation_share < 0.5]
    ranked = sorted(texts, key=lambda each: (-score(each), each.place))
    if not ranked:
        raise ExportError(
            f"{draft.shown}: no column holds names of exercises; a mapping cannot be drafted."
        )
    best = ranked[0]
    known = f"{best.known_share:.0%} of its cells name known exercises"
    if best.header.strength("exercise") >= SURE or best.known_share >= 0.3:
        strength = best.header.strength("exercise")
        confidence = 0.55 + 0.25 * strength + 0.3 * best.known_share
        draft.take("exercise", best, max(confidence, GUESS_FROM), known)
    else:
        silent = [each for each in ranked if not each.header.strengths or score(each) > 0.2]
        silent = [each for each in silent if len(each.counts) > 1][:FEW] or [best]
        if len(silent) == 1:
            draft.take("exercise", silent[0], GUESS_FROM, "the only column of words")
        else:
            draft.ask(
                "columns",
                [("exercise", each.name) for each in silent],
                "several columns hold words, and none names known lifts",
            )
            for each in silent:
                draft.taken[each.name] = "exercise"
        best = silent[0]
    draft.exercise = best


def find_carried(draft: Draft) -> None:
    """Fields that stand only on the first of the lines for which they hold."""
    fields = {"performed_on": draft.day, "client": draft.client, "exercise": draft.exercise}
    found = {
        key: each
        for key, each in fields.items()
        if each is not None and key in draft.taken.values() and _is_carried(each)
    }
    if found:
        named = " and ".join(f"'{each.name}'" for each in found.values())
        empty = max(each.texts.len() - each.filled for each in found.values())
        reason = f"up to {empty} lines have an empty {named}, below one that is filled"
        draft.guess("layout", "carried", list(found), 0.85, reason)


def _is_carried(column: Column) -> bool:
    """Whether a value stands only on the first of its lines: it hardly repeats the one before."""
    filled = column.texts.drop_nulls()
    repeats = int((filled == filled.shift()).sum())
    has_first = column.texts.len() > 0 and column.texts[0] is not None
    return (
        has_first
        and column.filled_share < 0.7
        and filled.len() > 1
        and repeats <= column.filled // 20
    )


def _same_days(one: Column, other: Column) -> bool:
    return bool((days_of(one) == days_of(other)).fill_null(True).all())
