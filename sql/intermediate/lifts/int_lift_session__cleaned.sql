-- One row per client, exercise and day with a work set: what the trend uses of it. Days of a run are
-- told apart by their usual repetitions to failure; a session far off the median of those before it
-- is drawn in, so that one bad day bends no line. A change of repetitions is told by the two sessions
-- after it; otherwise nothing here looks further ahead than a run's first sessions.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- run: number of the run, from 1
-- run_from: first day of the run
-- band: class of the repetitions to failure that were usual then, rules.reps_change wide; all: the
-- lift is followed by load × repetitions
-- weeks: time since the run began [weeks]
-- log_value: 100 × natural log of what is followed, drawn in where far off; null: not used [%]
-- is_record: whether it and another session of the 28 days up to it beat all before, in its band, by
-- more than the usual scatter (robust standard deviation)
-- has_recorded_effort: whether a set of the day has recorded effort
-- best_before: highest index before the run, null: nothing before [kg]
-- best_in_run: highest index of the run up to the day [kg]
with rules as (
    select *,
    from review.rules
),

valued as (
    select *,
    from int_lift_session__followed
),

-- mean of the repetitions to failure that were done and those that the load allows on a usual day:
-- either alone would put good or bad days into bands of their own
repetitions as (
    select
        client_id,
        exercise,
        day,
        run,
        has_index,
        raw_value,
        -- rounded: half repetitions stand on the edges of classes, and no hair of a float decides
        round(30 * ((value + usual_value) / 2 / index_load_kg - 1), 5) as reps_1,
        round(15 * abs(value - usual_value) / index_load_kg, 5) as reps_distance,
    from valued
    where raw_value is not null
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
        greatest(
            rules.reps_change,
            rules.reps_change_scales * 1.4826 * median(reps_distance) over (
                days rows between rules.clip_scale_sessions preceding and current row
            )
        ) as least_change,
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
                    case when abs(reps_1 - reps_0) >= least_change - 1e-5 then reps_1 end
            when
                greatest(
                    abs(reps_after - reps_before), abs(reps_after - reps_long_before)
                ) >= least_change - 1e-5
                and (2 * reps_0 < reps_before + reps_after) = (reps_before < reps_after)
                and (2 * reps_1 > reps_before + reps_after) = (reps_before < reps_after)
                then reps_after
        end as new_reps,
    from median_reps
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
            else floor((usual_reps + 1.5) / rules.reps_change + 1e-6)::integer::varchar
        end as band,
    from changed_reps
    cross join rules
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
        ) as scale,
        scale * rules.clip_scales as reach,
        recent_best[2] > earlier_best + scale and raw_value > earlier_best + scale as is_record,
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
    valued.best_before,
    valued.best_in_run,
from valued
left join scaled
    on
        valued.client_id = scaled.client_id
        and valued.exercise = scaled.exercise
        and valued.day = scaled.day
