-- One row per client, exercise and week with a session: how fast the lift moved up to that week, how
-- sure that is, and what follows. Change of the log strength index a week (mean of a session's two
-- best sets), light and suspect sets left out; 95 % interval that allows for correlation between
-- sessions. How often the status errs, beside the rule "no new best for 4 weeks", is measured in
-- tests/README.md.
-- grain: client_id, exercise, week
-- client_id: the client
-- exercise: the exercise
-- week: Monday of the week
-- sessions: sessions that the rate rests on [sessions]
-- change_pct_per_week: change a week; null: too little data [%/week]
-- change_low: lower end of its 95 % interval [%/week]
-- change_high: upper end of its 95 % interval [%/week]
-- expected_pct_per_week: what was to be expected: the lift's own earlier rate, within bounds [%/week]
-- status: progressing, stalled, regressing, unclear or too_little_data; null: in pause or care
-- cause: what decided where it is not the interval alone: regaining, cut,
-- new_record, slowing (rising, but the last weeks alone are not), led
-- window_days: days that the rate rests on [days]
-- weeks_until_clear: more weeks at this pace of sessions until the data would tell; null: they do,
-- or not in rules.trend_days and rules.expected_days together
-- end_pct_per_week: slope of the last rules.break_days alone; null: no earlier line [%/week]
-- noise_pct: standard deviation of sessions about the line [%]
-- correlation: between neighbouring sessions
-- last_on: last session that the rate rests on
with rules as (
    select *,
    from review.rules
),

week_sessions as (
    select
        client_id,
        exercise,
        run,
        run_from,
        day,
        date_trunc('week', day)::date as week,
        best_before,
        best_in_run,
        max(day) filter (where is_record) over so_far as record_on,
        max(day) filter (where has_recorded_effort) over so_far as effort_on,
    from int_lift_session__cleaned
    window so_far as (
        partition by client_id, exercise, run
        order by day
        rows between unbounded preceding and current row
    )
),

weeks as (
    select
        client_id,
        exercise,
        week,
        max(day) as last_day,
        max(run) as run,
        arg_max(run_from, day) as run_from,
        arg_max(best_before, day) as best_before,
        arg_max(best_in_run, day) as best_in_run,
        arg_max(record_on, day) as record_on,
        arg_max(effort_on, day) as effort_on,
    from week_sessions
    group by all
),

phased_weeks as (
    select
        weeks.client_id,
        weeks.exercise,
        weeks.week,
        bool_or(phases.kind in ('pause', 'care')) as is_led,
        bool_or(phases.kind = 'cut') as is_cutting,
    from weeks
    inner join stg_phases as phases
        on
            weeks.client_id = phases.client_id
            and weeks.last_day between phases.from_on and phases.to_on
    group by all
),

causes as (
    select
        weeks.client_id,
        weeks.exercise,
        weeks.week,
        coalesce(phased_weeks.is_led, false) as is_led,
        coalesce(phased_weeks.is_cutting, false) as is_cutting,
        coalesce(
            weeks.last_day - weeks.run_from <= rules.trend_days
            and weeks.best_in_run < weeks.best_before,
            false
        ) as is_regaining,
        coalesce(
            weeks.last_day - weeks.record_on < rules.new_record_days
            and (
                weeks.effort_on is null
                or weeks.last_day - weeks.effort_on >= rules.trend_days
            ),
            false
        ) as has_unrecorded_record,
    from weeks
    cross join rules
    left join phased_weeks
        on
            weeks.client_id = phased_weeks.client_id
            and weeks.exercise = phased_weeks.exercise
            and weeks.week = phased_weeks.week
),

judged as (
    select
        causes.*,
        judged.* exclude (client_id, exercise, week, sessions),
        coalesce(judged.sessions, 0) as sessions,
        case
            when causes.is_led then null
            when judged.rate is null then 'too_little_data'
            when causes.is_regaining then 'unclear'
            when judged.high < 0
                then case when causes.has_unrecorded_record then 'unclear' else 'regressing' end
            when judged.low > 0 and not judged.is_slowing then 'progressing'
            when judged.is_behind and judged.rate < judged.expected / 2
                then
                    case
                        when causes.is_cutting or causes.has_unrecorded_record then 'unclear'
                        else 'stalled'
                    end
            else 'unclear'
        end as status,
    from causes
    left join int_lift_week__judged as judged
        on
            causes.client_id = judged.client_id
            and causes.exercise = judged.exercise
            and causes.week = judged.week
),

-- at an even pace of sessions the standard error falls with the window's length to the power 3/2
explained as (
    select
        judged.*,
        case
            when is_led then 'led'
            when status = 'unclear' and is_regaining then 'regaining'
            when status = 'unclear' and (high < 0 or (is_behind and rate < expected / 2))
                then case when has_unrecorded_record then 'new_record' else 'cut' end
            when status = 'unclear' and low > 0 then 'slowing'
        end as cause,
        greatest(
            abs(rate) / 1.959964,
            case when rate < expected / 2 then (expected - rate) / 1.644854 else 0 end
        ) as telling_se,
    from judged
),

timed as (
    select
        explained.*,
        case
            when status = 'unclear' and cause is null and telling_se > 0
                then greatest(
                    1, ceil(window_days / 7 * (pow(rate_se / telling_se, 2.0 / 3) - 1))
                )
        end as weeks_more,
    from explained
)

select
    timed.client_id::varchar as client_id,
    timed.exercise::varchar as exercise,
    timed.week,
    timed.sessions,
    timed.rate as change_pct_per_week,
    timed.low as change_low,
    timed.high as change_high,
    timed.expected as expected_pct_per_week,
    timed.status,
    timed.cause,
    timed.window_days,
    case
        when
            timed.window_days + 7 * timed.weeks_more <= rules.trend_days + rules.expected_days
            then timed.weeks_more::integer
    end as weeks_until_clear,
    timed.end_rate as end_pct_per_week,
    timed.noise as noise_pct,
    timed.correlation,
    timed.until_on as last_on,
from timed
cross join rules
