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
with across_pairs as (
    select
        *,
        count(*) over later_session as first_days,
        count(*) filter (where is_first_recorded) over later_session as recorded_first_days,
    from int_muscle_set__paired
    where kind = 'across'
    window later_session as (partition by client_id, exercise, muscle, day)
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
    from across_pairs
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
        client_id,
        muscle,
        kind,
        nth,
        day,
        any_value(log_index) - avg(first_log_index) as log_ratio,
        case
            when any_value(is_recorded)
                then any_value(log_index) - avg(first_log_index) filter (where is_first_recorded)
        end as recorded_log_ratio,
    from int_muscle_set__paired
    group by client_id, muscle, exercise, kind, nth, day
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
