-- One row per client, muscle, kind of comparison and place: the mean log ratio of a later set to an
-- earlier one, and its spread over sessions.
-- within: the nth hard set of an exercise over its first that day, loads at most
-- rules.fade_load_share apart. across: an exercise's first hard set on days on which the muscle had
-- n − 1 hard sets before it, over the same exercise's days when done first, at most
-- rules.reference_days away and at the same level.
-- grain: client_id, muscle, kind, nth
-- client_id: the client
-- muscle: the muscle that the exercise trains directly
-- kind: within or across
-- nth: place of the set
-- pairs: comparisons
-- log_mean: mean log ratio
-- log_deviation: its standard deviation over the comparisons; null: one only
-- recorded_pairs: comparisons with recorded effort on both sides
-- recorded_log_mean: mean of their log ratios
-- recorded_log_deviation: standard deviation of those
with direct_muscles as (
    select
        exercise,
        muscle,
    from review.exercise_muscles
    where role = 'direct'
),

within_ratios as (
    select
        ranked.client_id,
        ranked.exercise,
        ranked.nth,
        ln(ranked.strength_index / ranked.first_index) as log_ratio,
        ranked.is_recorded and ranked.is_first_recorded as is_recorded,
    from int_set__ranked as ranked
    cross join review.rules as rules
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
        and graded.performed_on > logged.last_on - rules.fade_days
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

against_own_first_days as (
    select
        opened_sessions.*,
        avg(log_index) filter (where sets_before = 0) over nearby as first_log_index,
        avg(log_index) filter (
            where sets_before = 0 and is_recorded
        ) over nearby as recorded_first_log_index,
    from opened_sessions
    cross join review.rules as rules
    window nearby as (
        partition by client_id, exercise, muscle, level
        order by day
        range between to_days(rules.reference_days) preceding
        and to_days(rules.reference_days) following
    )
),

ratios as (
    select
        within_ratios.client_id,
        direct_muscles.muscle,
        'within' as kind,
        within_ratios.nth,
        within_ratios.log_ratio,
        case when within_ratios.is_recorded then within_ratios.log_ratio end as recorded_log_ratio,
    from within_ratios
    inner join direct_muscles on within_ratios.exercise = direct_muscles.exercise
    union all
    select
        client_id,
        muscle,
        'across' as kind,
        sets_before + 1 as nth,
        log_index - first_log_index as log_ratio,
        case when is_recorded then log_index - recorded_first_log_index end as recorded_log_ratio,
    from against_own_first_days
    where sets_before > 0 and first_log_index is not null
)

select
    client_id,
    muscle,
    kind,
    nth::integer as nth,
    count(*) as pairs,
    avg(log_ratio) as log_mean,
    stddev_samp(log_ratio) as log_deviation,
    count(recorded_log_ratio) as recorded_pairs,
    avg(recorded_log_ratio) as recorded_log_mean,
    stddev_samp(recorded_log_ratio) as recorded_log_deviation,
from ratios
group by all
