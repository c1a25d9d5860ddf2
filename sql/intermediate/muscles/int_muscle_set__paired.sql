-- One row per comparison of a later set with an earlier one, for a muscle that both train directly.
-- within: the nth hard set of an exercise with its first that day, loads at most rules.fade_load_share
-- apart. across: an exercise's first hard set on a day on which the muscle had n − 1 hard sets before
-- it, with the same exercise's first on each day near it when done first, at most rules.reference_days
-- away and at the same level.
-- grain: client_id, muscle, exercise, kind, nth, day, first_day
-- client_id: the client
-- muscle: the muscle that the exercise trains directly
-- exercise: the exercise
-- kind: within or across
-- nth: place of the set
-- day: its day
-- first_day: day of the first set
-- log_index: log of its strength index
-- first_log_index: that of the first set
-- is_recorded: whether its effort is recorded
-- is_first_recorded: whether that of the first set is
with direct_muscles as (
    select
        exercise,
        muscle,
    from review.exercise_muscles
    where role = 'direct'
),

within_pairs as (
    select
        ranked.client_id,
        direct_muscles.muscle,
        ranked.exercise,
        ranked.day,
        ranked.nth,
        ln(ranked.strength_index) as log_index,
        ln(ranked.first_index) as first_log_index,
        ranked.is_recorded,
        ranked.is_first_recorded,
    from int_set__ranked as ranked
    cross join review.rules as rules
    inner join direct_muscles on ranked.exercise = direct_muscles.exercise
    where
        ranked.nth > 1
        and ranked.first_index is not null
        and abs(ranked.load_ratio - 1) <= rules.fade_load_share + 1e-9
),

placed_sets as (
    select
        graded.client_id,
        graded.exercise,
        graded.performed_on as day,
        direct_muscles.muscle,
        row_number() over (
            partition by graded.client_id, direct_muscles.muscle, graded.performed_on
            order by graded.day_order, graded.load_id, graded.source_line, graded.set_id
        ) - 1 as sets_before,
    from int_set__graded as graded
    inner join direct_muscles on graded.exercise = direct_muscles.exercise
    inner join int_client__logged as logged on graded.client_id = logged.client_id
    cross join review.rules as rules
    where
        graded.is_hard
        and graded.performed_on > logged.covered_on - rules.fade_days
),

-- sets of the muscle before the exercise's first, sets of exercises done by turns included
ordered_sessions as (
    select
        client_id,
        exercise,
        day,
        muscle,
        min(sets_before) as sets_before,
    from placed_sets
    group by all
),

opened_sessions as (
    select
        ordered_sessions.*,
        levelled.level,
        ln(ranked.strength_index) as log_index,
        ranked.is_recorded,
    from ordered_sessions
    inner join int_set__ranked as ranked
        on
            ordered_sessions.client_id = ranked.client_id
            and ordered_sessions.exercise = ranked.exercise
            and ordered_sessions.day = ranked.day
            and ranked.nth = 1
    inner join int_lift_session__levelled as levelled
        on
            ordered_sessions.client_id = levelled.client_id
            and ordered_sessions.exercise = levelled.exercise
            and ordered_sessions.day = levelled.day
),

-- each later session beside every day near it on which the exercise was done first
across_pairs as (
    select
        later.client_id,
        later.exercise,
        later.muscle,
        later.sets_before + 1 as nth,
        later.day,
        first_days.day as first_day,
        later.log_index,
        later.is_recorded,
        first_days.log_index as first_log_index,
        first_days.is_recorded as is_first_recorded,
    from opened_sessions as later
    cross join review.rules as rules
    inner join opened_sessions as first_days
        on
            later.client_id = first_days.client_id
            and later.exercise = first_days.exercise
            and later.muscle = first_days.muscle
            and later.level = first_days.level
            and first_days.day between later.day - rules.reference_days
            and later.day + rules.reference_days
    where later.sets_before > 0 and first_days.sets_before = 0
)

select
    client_id,
    muscle,
    exercise,
    'within' as kind,
    nth,
    day,
    day as first_day,
    log_index,
    first_log_index,
    is_recorded,
    is_first_recorded,
from within_pairs
union all
select
    client_id,
    muscle,
    exercise,
    'across' as kind,
    nth,
    day,
    first_day,
    log_index,
    first_log_index,
    is_recorded,
    is_first_recorded,
from across_pairs
