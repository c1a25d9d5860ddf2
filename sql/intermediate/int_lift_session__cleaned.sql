-- One row per client, exercise and day with a work set: what the trend uses of it. A lift's days are
-- cut into runs, which begin anew after rules.not_trained_days without the lift and at a change of
-- level. Light sessions give nothing; a session far off the median of those before it is drawn in,
-- so that one bad day bends no line. Nothing here looks further ahead than a run's first sessions.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- run: number of the run, from 1
-- run_from: first day of the run
-- band: repetitions to failure that were usual then; all: the lift is followed by load × repetitions
-- weeks: time since the run began [weeks]
-- log_value: 100 × natural log of what is followed, drawn in where far off; null: not used [%]
-- is_record: whether it and another session of the 28 days up to it beat all before, in its band
-- has_recorded_effort: whether a set of the day has recorded effort
-- best_before: highest index before the run, null: nothing before [kg]
-- best_in_run: highest index of the run up to the day [kg]
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
        indexed.index_load_kg,
        indexed.followed_reps,
        indexed.has_recorded_effort,
        levelled.level,
        lightened.is_light,
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
        * exclude (session_index, followed_reps, index_load_kg),
        case when has_index then session_index else followed_reps end as value,
        case when has_index then index_load_kg end as index_load_kg,
        sum(is_restart::integer) over (
            partition by client_id, exercise
            order by day
        )::integer as run,
    from sessions
),

valued as (
    select
        * exclude (value),
        value,
        first_value(day) over run_days as run_from,
        case when value > 0 and not is_light then round(100 * ln(value), 9) end as raw_value,
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
        * exclude (best_in_run, best_before, has_recorded_effort),
        coalesce(
            median(value) over (
                partition by client_id, exercise, run
                order by day
                rows between rules.clip_sessions preceding and 1 preceding
            ),
            value
        ) as usual_value,
    from valued
    cross join rules
    where raw_value is not null
),

-- mean of the repetitions to failure that were done and those that the load allows on a usual day:
-- either alone would put good or bad days into bands of their own
repetitions as (
    select
        * exclude (usual_value, index_load_kg, value),
        -- rounded: half repetitions stand on the edges of bands, and no hair of a float decides
        round(30 * ((value + usual_value) / 2 / index_load_kg - 1), 5) as reps_1,
    from usual_sessions
),

neighbours as (
    select
        *,
        lead(reps_1) over days as reps_2,
        lead(reps_1, 2) over days as reps_3,
        lag(reps_1) over days as reps_0,
        lag(reps_1, 2) over days as reps_b,
        lag(reps_1, 3) over days as reps_a,
        median(reps_1) over (
            days rows between rules.clip_sessions preceding and 1 preceding
        ) as reps_long_before,
    from repetitions
    cross join rules
    window days as (partition by client_id, exercise, run order by day)
),

median_reps as (
    select
        *,
        round(
            reps_1 + reps_2 + reps_3
            - least(reps_1, reps_2, reps_3) - greatest(reps_1, reps_2, reps_3),
            5
        ) as reps_after,
        round(
            reps_a + reps_b + reps_0
            - least(reps_a, reps_b, reps_0) - greatest(reps_a, reps_b, reps_0),
            5
        ) as reps_before,
    from neighbours
),

-- a band holds on until three sessions in a row are at other repetitions
changed_reps as (
    select
        median_reps.*,
        case
            when reps_0 is null then coalesce(reps_after, reps_1)
            -- the first and the last sessions lack neighbours: their own repetitions must do
            when reps_a is null or reps_3 is null
                then
                    case when abs(reps_1 - reps_0) >= rules.reps_change - 1e-5 then reps_1 end
            when
                greatest(
                    abs(reps_after - reps_before), abs(reps_after - reps_long_before)
                ) >= rules.reps_change - 1e-5
                and (2 * reps_0 < reps_before + reps_after) = (reps_before < reps_after)
                and (2 * reps_1 > reps_before + reps_after) = (reps_before < reps_after)
                then reps_after
        end as new_reps,
    from median_reps
    cross join rules
),

banded_sessions as (
    select
        * exclude (new_reps),
        last_value(new_reps ignore nulls) over (
            partition by client_id, exercise, run
            order by day
            rows between unbounded preceding and current row
        ) as usual_reps,
        case
            when not has_index then 'all'
            when usual_reps < 3.5 then '1-3'
            when usual_reps < 6.5 then '4-6'
            when usual_reps < 10.5 then '7-10'
            else '11-20'
        end as band,
    from changed_reps
),

used_sessions as (
    select
        valued.client_id,
        valued.exercise,
        valued.day,
        valued.run,
        valued.band,
        valued.raw_value,
        row_number() over in_band as nth,
        median(valued.raw_value) over last_ones as usual_value,
        median(valued.raw_value) over first_ones as first_value,
        max(valued.raw_value, 2) over recent as recent_best,
        max(valued.raw_value) over earlier as earlier_best,
    from banded_sessions as valued
    cross join rules
    window
        in_band as (
            partition by valued.client_id, valued.exercise, valued.run, valued.band
            order by valued.day
        ),
        last_ones as (
            partition by valued.client_id, valued.exercise, valued.run, valued.band
            order by valued.day
            rows between rules.clip_sessions preceding and 1 preceding
        ),
        first_ones as (
            partition by valued.client_id, valued.exercise, valued.run, valued.band
            order by valued.day
            rows between rules.trend_min_sessions preceding
            and rules.trend_min_sessions - 1 following
        ),
        recent as (
            partition by valued.client_id, valued.exercise, valued.run, valued.band
            order by valued.day
            range between to_days(rules.new_record_days - 1) preceding and current row
        ),
        earlier as (
            partition by valued.client_id, valued.exercise, valued.run, valued.band
            order by valued.day
            range between unbounded preceding and to_days(rules.new_record_days) preceding
        )
),

distances as (
    select
        used_sessions.*,
        case
            when nth > rules.trend_min_sessions then usual_value
            else first_value
        end as compared_value,
        recent_best[2] > earlier_best and raw_value > earlier_best as is_record,
    from used_sessions
    cross join rules
),

scaled as (
    select
        distances.*,
        greatest(
            rules.noise_low_pct,
            1.4826 * median(abs(raw_value - compared_value)) over (
                partition by client_id, exercise, run
                order by day
                rows between rules.clip_scale_sessions preceding and current row
            )
        ) * rules.clip_scales as reach,
    from distances
    cross join rules
)

select
    valued.client_id,
    valued.exercise,
    valued.day,
    valued.run,
    valued.run_from,
    scaled.band,
    (valued.day - valued.run_from) / 7 as weeks,
    round(
        greatest(
            least(scaled.raw_value, scaled.compared_value + scaled.reach),
            scaled.compared_value - scaled.reach
        ),
        9
    ) as log_value,
    coalesce(scaled.is_record, false) as is_record,
    valued.has_recorded_effort,
    round(valued.best_before, 9) as best_before,
    round(valued.best_in_run, 9) as best_in_run,
from valued
left join scaled
    on
        valued.client_id = scaled.client_id
        and valued.exercise = scaled.exercise
        and valued.day = scaled.day
