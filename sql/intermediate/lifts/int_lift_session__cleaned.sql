-- One row per client, exercise and day with a work set: what a look at the lift uses of it. Days of a
-- run are told apart by their usual repetitions to failure; a session far off the median of itself
-- and those before counts as that median (Hampel's filter), so that one bad day bends no line, while a
-- lasting change is believed from the third session on. A change of repetitions is told by the
-- two sessions after it; otherwise nothing here looks ahead.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- run: number of the run, from 1
-- run_from: first day of the run
-- band: class of the repetitions to failure that were usual then, rules.reps_change wide; −1: the
-- lift is followed by load × repetitions
-- raw_value: 100 × natural log of what is followed; null: not used [%]
-- log_value: the same, the median of it and the rules.clip_recent_sessions before where far off [%]
-- compared_from: first session that this median is of
-- log_step: log_value less that of the session before in its band [%]
-- scatter: robust standard deviation of sessions, from the steps between them [%]
-- is_record: whether it and another session of the 28 days up to it beat all before, in its band, by
-- more than the usual scatter
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
        -- the median of a list: a quarter of the time of a window's own over so few rows
        list_median(list(reps_1) over (
            days rows between rules.clip_sessions preceding and 1 preceding
        )) as reps_long_before,
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
            when not has_index then -1
            else floor((usual_reps + 1.5) / rules.reps_change + 1e-6)::integer
        end as band,
    from changed_reps
    cross join rules
),

stepped_sessions as (
    select
        client_id,
        exercise,
        day,
        run,
        band,
        raw_value,
        raw_value - lag(raw_value) over in_band as step_pct,
        list_median(list(raw_value) over last_ones) as centre,
        first_value(day) over last_ones as compared_from,
        max(raw_value, 2) over recent as recent_best,
        max(raw_value) over earlier as earlier_best,
    from banded_sessions
    cross join (
        select
            clip_recent_sessions,
            new_record_days,
        from rules
    ) as rules
    window
        in_band as (partition by client_id, exercise, run, band order by day),
        last_ones as (
            partition by client_id, exercise, run, band
            order by day
            rows between rules.clip_recent_sessions preceding and current row
        ),
        recent as (
            partition by client_id, exercise, run, band
            order by day
            range between to_days(rules.new_record_days - 1) preceding and current row
        ),
        earlier as (
            partition by client_id, exercise, run, band
            order by day
            range between unbounded preceding and to_days(rules.new_record_days) preceding
        )
),

-- of the difference of two sessions: its standard deviation is that of one times the root of two
scaled as (
    select
        stepped_sessions.*,
        greatest(
            rules.noise_low_pct,
            coalesce(
                1.4826 / sqrt(2) * median(abs(step_pct)) over (
                    partition by client_id, exercise, run
                    order by day
                    rows between rules.clip_scale_sessions preceding and current row
                ),
                0
            )
        ) as scatter,
        scatter * rules.clip_scales as reach,
        recent_best[2] > earlier_best + scatter and raw_value > earlier_best + scatter
            as is_record,
    from stepped_sessions
    cross join rules
),

told as (
    select
        *,
        round(
            case when abs(raw_value - centre) <= reach then raw_value else centre end, 9
        ) as log_value,
    from scaled
)

select
    valued.client_id,
    valued.exercise,
    valued.day,
    valued.run,
    valued.run_from,
    told.band,
    told.raw_value,
    told.log_value,
    told.compared_from,
    round(
        told.log_value - lag(told.log_value) over (
            partition by told.client_id, told.exercise, told.run, told.band
            order by told.day
        ),
        9
    ) as log_step,
    round(told.scatter, 9) as scatter,
    coalesce(told.is_record, false) as is_record,
    valued.has_recorded_effort,
    valued.best_before,
    valued.best_in_run,
from valued
left join told
    on
        valued.client_id = told.client_id
        and valued.exercise = told.exercise
        and valued.day = told.day
