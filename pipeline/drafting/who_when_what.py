"""What every mapping needs besides the sets: the day, whose sets they are, the exercise."""

from __future__ import annotations

from pipeline.drafting.column_profiles import Profile
from pipeline.drafting.draft import FEW, Board, days_of
from pipeline.drafting.guesses import GUESS_FROM
from pipeline.drafting.header_words import OTHER, SURE
from pipeline.drafting.split_dates import takes_day_parts, takes_yearless, why_no_days
from pipeline.errors import ExportError


def find_days(board: Board) -> None:
    found = [each for each in board.free() if each.days is not None and each.days.share >= 0.5]
    if not found:
        if not (takes_day_parts(board) or takes_yearless(board)):
            raise ExportError(f"{board.shown}: {why_no_days(board)}")
        return

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
        board.ask(
            "columns",
            [("performed_on", each.name) for each in (best, *rivals)],
            "several columns hold days, and they differ",
        )
        for each in rivals:
            board.taken[each.name] = "performed_on"
        board.taken[best.name] = "performed_on"
    else:
        form = best.days
        assert form is not None
        why = f"{form.share:.0%} of {best.filled} cells are days"
        empty = best.texts.len() - best.filled
        if not _is_carried(best) and empty > best.texts.len() // 50:
            why += f"; {empty} lines have no day and will be set aside"
        strength = best.header.strength("performed_on", "started_at")
        board.take("performed_on", best, 0.7 + 0.1 * strength + 0.19 * form.share, why)
    board.day = best
    date_format(board, best, "date")


def date_format(board: Board, profile: Profile, key: str) -> None:
    form = profile.days
    if form is None:
        return
    if form.others:
        board.ask(
            "formats",
            [(key, each) for each in (form.pattern or "", *form.others)],
            f"column '{profile.name}': {form.reason}, such as '{next(iter(profile.counts))}'",
        )
    elif form.pattern is not None:
        example = next(iter(profile.counts))
        board.guess("formats", key, form.pattern, form.confidence, f"'{example}': {form.reason}")


def find_clients(board: Board) -> None:
    found = board.headed(("client",), lambda each: not each.days and each.filled_share, 0.3)
    found = [each for each in found if each.known_share < 0.5]
    client = board.only("client", found)
    if client is not None:
        board.client = client
        board.take("client", client, 0.95, f"{len(client.counts)} spellings")


def find_exercises(board: Board) -> None:
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

    texts = [each for each in board.free() if each.is_text and each.notation_share < 0.5]
    ranked = sorted(texts, key=lambda each: (-score(each), each.place))
    if not ranked:
        raise ExportError(
            f"{board.shown}: no column holds names of exercises; a mapping cannot be drafted."
        )
    best = ranked[0]
    known = f"{best.known_share:.0%} of its cells name known exercises"
    if best.header.strength("exercise") >= SURE or best.known_share >= 0.3:
        strength = best.header.strength("exercise")
        confidence = 0.55 + 0.25 * strength + 0.3 * best.known_share
        board.take("exercise", best, max(confidence, GUESS_FROM), known)
    else:
        silent = [each for each in ranked if not each.header.strengths or score(each) > 0.2]
        silent = [each for each in silent if len(each.counts) > 1][:FEW] or [best]
        if len(silent) == 1:
            board.take("exercise", silent[0], GUESS_FROM, "the only column of words")
        else:
            board.ask(
                "columns",
                [("exercise", each.name) for each in silent],
                "several columns hold words, and none names known lifts",
            )
            for each in silent:
                board.taken[each.name] = "exercise"
        best = silent[0]
    board.exercise = best


def find_carried(board: Board) -> None:
    """Fields that stand only on the first of the lines for which they hold."""
    fields = {"performed_on": board.day, "client": board.client, "exercise": board.exercise}
    found = {
        key: each
        for key, each in fields.items()
        if each is not None and key in board.taken.values() and _is_carried(each)
    }
    if found:
        named = " and ".join(f"'{each.name}'" for each in found.values())
        empty = max(each.texts.len() - each.filled for each in found.values())
        reason = f"up to {empty} lines have an empty {named}, below one that is filled"
        board.guess("layout", "carried", list(found), 0.85, reason)


def _is_carried(each: Profile) -> bool:
    """Whether a value stands only on the first of its lines: it hardly repeats the one before."""
    filled = each.texts.drop_nulls()
    repeats = int((filled == filled.shift()).sum())
    has_first = each.texts.len() > 0 and each.texts[0] is not None
    return (
        has_first and each.filled_share < 0.7 and filled.len() > 1 and repeats <= each.filled // 20
    )


def _same_days(one: Profile, other: Profile) -> bool:
    return bool((days_of(one) == days_of(other)).fill_null(True).all())
