-- One row per client, exercise and day with a work set: what is followed of it. A lift's days are cut
-- into runs, which begin anew after rules.not_trained_days without the lift and at a change of
-- level. What a day gives is the mean of its two best indices (of one set its own), or load ×
-- repetitions where most days have no index. Light sessions give nothing, unless a set of theirs is
-- recorded as hard outside phases of deload: then it was a weak day. Without recorded effort a day
-- further below the median of the rules.clip_sessions days before than rules.clip_scales robust
-- standard deviations, at rules.easy_load_share or more under the median load, was an easy one and
-- gives nothing, for rules.light_run_days at most. Nothing here looks ahead.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- run: number of the run, from 1
-- run_from: first day of the run
-- has_index: whether the lift is followed by its index
-- value: index or load × repetitions of the day's best set
-- usual_value: median of that of the rules.clip_sessions used days before; of the first its own
-- index_load_kg: load of the set that gave the index; null: followed by load × repetitions [kg]
-- raw_value: 100 × natural log of what the day gives; null: not used [%]
-- has_recorded_effort: whether a set of the day has recorded effort
-- best_before: highest value before the run, null: nothing before [kg]
-- best_in_run: highest value of the run up to the day [kg]
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
        indexed.trend_index,
        indexed.index_load_kg,
        indexed.followed_reps,
        indexed.has_recorded_effort,
        indexed.has_recorded_hard,
        levelled.level,
        lightened.is_light,
        lightened.is_planned,
        2 * count(indexed.session_index) over lift >= count(*) over lift as has_index,
        coalesce(
            indexed.day - lag(indexed.day) over days >= rules.not_trained_days
            or levelled.level > lag(levelled.level) over days,
            true
        ) as is_restart,
    from int_lift_session__indexed as indexed
    cross join rules
    inner join int_lift_session__levelled as levelled
        on
            indexed.client_id = levelled.client_id
            and indexed.exercise = levelled.exercise
            and indexed.day = levelled.day
    inner join int_lift_session__lightened as lightened
        on
            indexed.client_id = lightened.client_id
            and indexed.exercise = lightened.exercise
            and indexed.day = lightened.day
    window
        lift as (partition by indexed.client_id, indexed.exercise),
        days as (partition by indexed.client_id, indexed.exercise order by indexed.day)
),

followed as (
    select
        * exclude (session_index, trend_index, followed_reps, index_load_kg),
        case when has_index then session_index else followed_reps end as value,
        case when has_index then trend_index else followed_reps end as trend_value,
        case when has_index then index_load_kg end as index_load_kg,
        sum(is_restart::integer) over (
            partition by client_id, exercise
            order by day
        )::integer as run,
    from sessions
),

valued as (
    select
        * exclude (value, trend_value),
        value,
        first_value(day) over run_days as run_from,
        case
            when value > 0 and (not is_light or (has_recorded_hard and not is_planned))
                then round(100 * ln(trend_value), 9)
        end as trend_log,
        max(value) over run_days as best_in_run,
        max(value) over (
            partition by client_id, exercise
            order by run
            groups between unbounded preceding and 1 preceding
        ) as best_before,
    from followed
    window run_days as (partition by client_id, exercise, run order by day)
),

usual_sessions as (
    select
        client_id,
        exercise,
        day,
        run,
        value,
        index_load_kg,
        has_recorded_effort,
        -- the median of a list: a quarter of the time of a window's own over so few rows
        coalesce(list_median(list(value) over last_ones), value) as usual_value,
        coalesce(list_median(list(index_load_kg) over last_ones), index_load_kg)
            as usual_load_kg,
    from valued
    cross join rules
    where trend_log is not null
    window last_ones as (
        partition by client_id, exercise, run
        order by day
        rows between rules.clip_sessions preceding and 1 preceding
    )
),

spread_sessions as (
    select
        usual_sessions.*,
        100 * ln(value / usual_value) as distance,
        greatest(
            rules.noise_low_pct,
            1.4826 * median(abs(100 * ln(value / usual_value))) over (
                partition by client_id, exercise, run
                order by day
                rows between rules.clip_scale_sessions preceding and current row
            )
        ) * rules.clip_scales as distance_reach,
    from usual_sessions
    cross join rules
),

-- without recorded effort a lower load that gives far less is an easy day, not a weak one: loads are
-- chosen before the day's strength is known. A run longer than rules.light_run_days counts
doubted_sessions as (
    select
        spread_sessions.*,
        not has_recorded_effort
        and distance < -distance_reach
        and coalesce(index_load_kg <= (1 - rules.easy_load_share) * usual_load_kg, false)
            as seems_easy,
    from spread_sessions
    cross join rules
),

full_sessions as (
    select
        doubted_sessions.*,
        not coalesce(
            seems_easy
            and day - max(day) filter (where not seems_easy) over (
                partition by client_id, exercise, run
                order by day
            ) <= rules.light_run_days,
            false
        ) as is_full,
    from doubted_sessions
    cross join rules
)

select
    valued.client_id,
    valued.exercise,
    valued.day,
    valued.run,
    valued.run_from,
    valued.has_index,
    valued.value,
    full_sessions.usual_value,
    valued.index_load_kg,
    case when full_sessions.is_full then valued.trend_log end as raw_value,
    valued.has_recorded_effort,
    round(valued.best_before, 9) as best_before,
    round(valued.best_in_run, 9) as best_in_run,
from valued
left join full_sessions
    on
        valued.client_id = full_sessions.client_id
        and valued.exercise = full_sessions.exercise
        and valued.day = full_sessions.day
