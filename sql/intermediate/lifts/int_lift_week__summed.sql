-- One row per client, exercise, week with a session, window and band of repetitions: the sums from
-- which lines are fitted. A window holds the sessions of its days up to the lift's last used
-- session; weeks are counted from where the lift's end begins (rules.break_days). Sums run along
-- each band once, a window being the difference of two of them.
-- grain: client_id, exercise, week, window_days, band
-- client_id: the client
-- exercise: the exercise
-- week: Monday
-- window_days: length of the window [days]
-- band: repetitions to failure
-- run: number of the run
-- first_on: first used session of the run
-- until_on: last used session of the lift up to the end of the week
-- sessions: sessions
-- sum_weeks: sum of weeks since the lift's end begins
-- sum_weeks_squared: sum of their squares
-- sum_values: sum of log values
-- sum_weeks_values: sum of products
-- sum_values_squared: sum of squared values
-- end_from_weeks: weeks from the run's beginning to where the lift's end begins
-- sum_logs: sum of logs of the weeks since the run began and rules.curve_weeks before
-- sum_logs_squared: sum of their squares
-- sum_logs_values: sum of products
-- steps: pairs of neighbouring sessions
-- sum_steps_squared: sum of squared differences between them
with rules as (
    select *,
    from review.rules
),

cleaned as (
    select
        *,
        first_value(log_value ignore nulls) over (
            partition by client_id, exercise, run
            order by day
            rows between unbounded preceding and unbounded following
        ) as run_value,
        min(day) filter (where log_value is not null) over (
            partition by client_id, exercise, run
            order by day
        ) as first_on,
        max(day) filter (where log_value is not null) over (
            partition by client_id, exercise, run
            order by day
        ) as until_on,
    from int_lift_session__cleaned
),

steps as (
    select
        client_id,
        exercise,
        run,
        band,
        day,
        weeks,
        ln(weeks + rules.curve_weeks) as logs,
        log_value - run_value as value,
        log_value - lag(log_value) over (
            partition by client_id, exercise, run, band
            order by day
        ) as step,
    from cleaned
    cross join rules
    where log_value is not null
),

running_sums as (
    select
        client_id,
        exercise,
        run,
        band,
        day,
        count(*) over so_far as n,
        sum(weeks) over so_far as w,
        sum(weeks * weeks) over so_far as ww,
        sum(value) over so_far as v,
        sum(weeks * value) over so_far as wv,
        sum(value * value) over so_far as vv,
        sum(logs) over so_far as l,
        sum(logs * logs) over so_far as ll,
        sum(logs * value) over so_far as lv,
        count(step) over so_far as s,
        sum(step * step) over so_far as ss,
    from steps
    window so_far as (
        partition by client_id, exercise, run, band
        order by day
        rows between unbounded preceding and current row
    )
),

lift_weeks as (
    select
        client_id,
        exercise,
        date_trunc('week', day)::date as week,
        max(run) as run,
        arg_max(run_from, day) as run_from,
        arg_max(first_on, day) as first_on,
        arg_max(until_on, day) as until_on,
    from cleaned
    group by all
    having arg_max(until_on, day) is not null
),

bands as (
    select distinct
        client_id,
        exercise,
        run,
        band,
    from steps
),

sums_at_end as (
    select
        lift_weeks.client_id,
        lift_weeks.exercise,
        lift_weeks.week,
        lift_weeks.run,
        lift_weeks.first_on,
        lift_weeks.until_on,
        (lift_weeks.until_on - lift_weeks.run_from - rules.break_days) / 7 as origin,
        running_sums.* exclude (client_id, exercise, run, day),
    from lift_weeks
    cross join rules
    inner join bands
        on
            lift_weeks.client_id = bands.client_id
            and lift_weeks.exercise = bands.exercise
            and lift_weeks.run = bands.run
    asof inner join running_sums
        on
            bands.client_id = running_sums.client_id
            and bands.exercise = running_sums.exercise
            and bands.run = running_sums.run
            and bands.band = running_sums.band
            and lift_weeks.until_on >= running_sums.day
),

windows as (
    select
        sums_at_end.*,
        unnest([
            rules.break_days,
            rules.trend_days,
            2 * rules.break_days,
            rules.long_break_days,
            rules.trend_days_max,
            rules.trend_days + rules.expected_days,
            rules.curve_days,
        ]) as window_days,
    from sums_at_end
    cross join rules
),

differences as (
    select
        windows.client_id,
        windows.exercise,
        windows.week,
        windows.window_days,
        windows.band,
        windows.run,
        windows.first_on,
        windows.until_on,
        windows.origin,
        windows.n - coalesce(earlier.n, 0) as n,
        windows.w - coalesce(earlier.w, 0) as w,
        windows.ww - coalesce(earlier.ww, 0) as ww,
        windows.v - coalesce(earlier.v, 0) as v,
        windows.wv - coalesce(earlier.wv, 0) as wv,
        windows.vv - coalesce(earlier.vv, 0) as vv,
        windows.l - coalesce(earlier.l, 0) as l,
        windows.ll - coalesce(earlier.ll, 0) as ll,
        windows.lv - coalesce(earlier.lv, 0) as lv,
        windows.s - coalesce(earlier.s, 0) as s,
        windows.ss - coalesce(earlier.ss, 0) as ss,
    from windows
    asof left join running_sums as earlier
        on
            windows.client_id = earlier.client_id
            and windows.exercise = earlier.exercise
            and windows.run = earlier.run
            and windows.band = earlier.band
            and windows.until_on - windows.window_days >= earlier.day
)

select
    client_id,
    exercise,
    week,
    window_days,
    band,
    run,
    first_on,
    until_on,
    n as sessions,
    w - n * origin as sum_weeks,
    ww - 2 * origin * w + n * origin * origin as sum_weeks_squared,
    v as sum_values,
    wv - origin * v as sum_weeks_values,
    vv as sum_values_squared,
    origin as end_from_weeks,
    l as sum_logs,
    ll as sum_logs_squared,
    lv as sum_logs_values,
    s as steps,
    ss as sum_steps_squared,
from differences
where n > 0
