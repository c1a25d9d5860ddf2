-- One row per client, exercise and day with a work set: which level of the lift the day belongs to.
-- A new level (another machine, grip, side or unit) starts where the median of three sessions in a
-- row is rules.level_change_share or more from that of the three before. Short dips (a deload, one
-- bad day) are passed over, and a lower return after a break is detraining, not another level. A
-- noted change that names the lift starts one, whatever the loads say.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- level: number of the level, from 1
-- level_from: first day of the level
with rules as (
    select *,
    from review.rules
),

sessions as (
    select
        indexed.client_id,
        indexed.exercise,
        indexed.day,
        indexed.session_index,
    from int_lift_session__indexed as indexed
    where indexed.session_index > 0
),

compared_sessions as (
    select
        sessions.*,
        coalesce(
            -- indices are rounded: exactly a tenth under may miss by a hair
            session_index
            <= (1 - rules.light_share) * list_median(list(session_index) over recent) + 1e-6
            and count(*) over recent >= 3,
            false
        ) as is_low,
    from sessions
    cross join rules
    window recent as (
        partition by client_id, exercise
        order by day
        range between to_days(rules.reference_days) preceding and to_days(1) preceding
    )
),

runs as (
    select
        *,
        sum((not is_low)::integer) over (partition by client_id, exercise order by day) as run_no,
    from compared_sessions
),

measured_runs as (
    select
        *,
        max(day) over low_run - min(day) filter (where is_low) over low_run + 1 as run_days,
    from runs
    window low_run as (partition by client_id, exercise, run_no)
),

steady_sessions as (
    select
        client_id,
        exercise,
        day,
        session_index as index_1,
        lead(session_index) over lift as index_2,
        lead(session_index, 2) over lift as index_3,
        lag(session_index) over lift as index_0,
        lag(session_index, 2) over lift as index_b,
        lag(session_index, 3) over lift as index_a,
        day - lag(day) over lift as gap_days,
    from measured_runs
    cross join rules
    where not is_low or run_days > rules.light_run_days
    window lift as (partition by client_id, exercise order by day)
),

-- the median of three is what remains of their sum without the least and the greatest
medians as (
    select
        client_id,
        exercise,
        day,
        gap_days,
        index_0,
        index_1,
        index_a + index_b + index_0
        - least(index_a, index_b, index_0) - greatest(index_a, index_b, index_0) as median_before,
        index_1 + index_2 + index_3
        - least(index_1, index_2, index_3) - greatest(index_1, index_2, index_3) as median_after,
        abs(ln(index_1 * index_2 * index_3) - ln(index_a * index_b * index_0)) as step,
    from steady_sessions
    where index_a is not null and index_3 is not null
),

candidates as (
    select
        medians.client_id,
        medians.exercise,
        medians.day,
        medians.step,
    from medians
    cross join rules
    where
        abs(median_after / median_before - 1) >= rules.level_change_share - 1e-9
        -- the last session before and the first after lie on their own side of the middle
        and (index_0 < sqrt(median_before * median_after)) = (median_before < median_after)
        and (index_1 > sqrt(median_before * median_after)) = (median_before < median_after)
        and (median_after > median_before or gap_days < rules.not_trained_days)
),

-- the sessions around one change all see it: the sharpest step is its start
separated_candidates as (
    select
        *,
        coalesce(
            day - lag(day) over (partition by client_id, exercise order by day)
            > rules.not_trained_days,
            true
        ) as is_separate,
    from candidates
    cross join (select not_trained_days, from rules) as rules
),

changes as (
    select
        *,
        sum(is_separate::integer) over (partition by client_id, exercise order by day) as change_no,
    from separated_candidates
),

noted_starts as (
    select
        days.client_id,
        days.exercise,
        days.day as level_from,
    from (
        select
            client_id,
            exercise,
            day,
            lag(day) over (partition by client_id, exercise order by day) as day_before,
        from int_lift_session__indexed
    ) as days
    semi join stg_lift_changes as noted
        on
            days.client_id = noted.client_id
            and days.exercise = noted.exercise
            and days.day_before < noted.changed_on
            and days.day >= noted.changed_on
),

starts as (
    select
        client_id,
        exercise,
        arg_max(day, { 'step': round(step, 9), 'earlier': -epoch(day) }) as level_from,
    from changes
    group by client_id, exercise, change_no
    union
    select *,
    from noted_starts
),

numbered_starts as (
    select
        client_id,
        exercise,
        level_from,
        1 + row_number() over (partition by client_id, exercise order by level_from) as level,
    from starts
)

select
    indexed.client_id,
    indexed.exercise,
    indexed.day,
    coalesce(numbered_starts.level, 1)::integer as level,
    coalesce(
        numbered_starts.level_from,
        min(indexed.day) over (partition by indexed.client_id, indexed.exercise)
    ) as level_from,
from int_lift_session__indexed as indexed
asof left join numbered_starts
    on
        indexed.client_id = numbered_starts.client_id
        and indexed.exercise = numbered_starts.exercise
        and indexed.day >= numbered_starts.level_from
