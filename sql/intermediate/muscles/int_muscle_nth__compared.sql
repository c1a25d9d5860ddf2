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
-- sessions: days with a comparison
-- log_mean: mean log ratio
-- log_error: its standard error. Comparisons of one day go together; across, the days when done
-- first vary like the later ones; null: one session only
-- recorded_pairs: comparisons with recorded effort on both sides
-- recorded_sessions: days with such a comparison
-- recorded_log_mean: mean of their log ratios
-- recorded_log_error: standard error of that
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
        ranked.day,
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
against_own_first_days as (
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
        count(*) over later_session as first_days,
        count(*) filter (where first_days.is_recorded) over later_session as recorded_first_days,
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
    window later_session as (
        partition by later.client_id, later.exercise, later.muscle, later.day
    )
),

across_ratios as (
    select
        client_id,
        muscle,
        nth,
        day,
        any_value(log_index) - avg(first_log_index) as log_ratio,
        case
            when any_value(is_recorded)
                then any_value(log_index) - avg(first_log_index) filter (where is_first_recorded)
        end as recorded_log_ratio,
    from against_own_first_days
    group by client_id, exercise, muscle, nth, day
),

-- a first day stands behind many comparisons: what it adds to the error of their mean
first_day_weights as (
    select
        client_id,
        muscle,
        nth,
        exercise,
        first_day,
        sum(1 / first_days) as weight,
        coalesce(
            sum(1 / recorded_first_days) filter (where is_recorded and is_first_recorded), 0
        ) as recorded_weight,
    from against_own_first_days
    group by all
),

reused as (
    select
        client_id,
        muscle,
        'across' as kind,
        nth,
        sum(weight * weight) as squared_weights,
        sum(recorded_weight * recorded_weight) as recorded_squared_weights,
    from first_day_weights
    group by all
),

ratios as (
    select
        within_ratios.client_id,
        direct_muscles.muscle,
        'within' as kind,
        within_ratios.nth,
        within_ratios.day,
        within_ratios.log_ratio,
        case when within_ratios.is_recorded then within_ratios.log_ratio end as recorded_log_ratio,
    from within_ratios
    inner join direct_muscles on within_ratios.exercise = direct_muscles.exercise
    union all
    select
        client_id,
        muscle,
        'across' as kind,
        nth,
        day,
        log_ratio,
        recorded_log_ratio,
    from across_ratios
),

centred as (
    select
        *,
        log_ratio - avg(log_ratio) over place as off_mean,
        recorded_log_ratio - avg(recorded_log_ratio) over place as recorded_off_mean,
    from ratios
    window place as (partition by client_id, muscle, kind, nth)
),

day_sums as (
    select
        client_id,
        muscle,
        kind,
        nth,
        day,
        count(*) as pairs,
        sum(log_ratio) as log_sum,
        sum(off_mean) as off_sum,
        count(recorded_log_ratio) as recorded_pairs,
        sum(recorded_log_ratio) as recorded_log_sum,
        sum(recorded_off_mean) as recorded_off_sum,
    from centred
    group by all
),

place_sums as (
    select
        client_id,
        muscle,
        kind,
        nth,
        sum(pairs)::bigint as pairs,
        count(*) as sessions,
        sum(log_sum) as log_sum,
        sum(off_sum * off_sum) * count(*) / nullif(count(*) - 1, 0) as squares,
        sum(recorded_pairs)::bigint as recorded_pairs,
        count(recorded_log_sum) as recorded_sessions,
        sum(recorded_log_sum) as recorded_log_sum,
        sum(recorded_off_sum * recorded_off_sum) * count(recorded_log_sum)
        / nullif(count(recorded_log_sum) - 1, 0) as recorded_squares,
    from day_sums
    group by all
)

select
    sums.client_id,
    sums.muscle,
    sums.kind,
    sums.nth::integer as nth,
    sums.pairs,
    sums.sessions,
    sums.log_sum / sums.pairs as log_mean,
    sqrt(sums.squares * (1 + coalesce(reused.squared_weights, 0) / sums.pairs))
    / sums.pairs as log_error,
    sums.recorded_pairs,
    sums.recorded_sessions,
    sums.recorded_log_sum / nullif(sums.recorded_pairs, 0) as recorded_log_mean,
    sqrt(
        sums.recorded_squares
        * (
            1
            + coalesce(reused.recorded_squared_weights, 0) / nullif(sums.recorded_pairs, 0)
        )
    ) / nullif(sums.recorded_pairs, 0) as recorded_log_error,
from place_sums as sums
left join reused
    on
        sums.client_id = reused.client_id
        and sums.muscle = reused.muscle
        and sums.kind = reused.kind
        and sums.nth = reused.nth
