-- One row per client, exercise, week with a session and length of the lift's end: two lines through
-- its sessions that meet where the end begins, each band of repetitions held by three or more
-- sessions having a level of its own. The difference of the slopes tells whether the lift has left
-- its own earlier course, whatever that was. Fitted twice: against weeks, and against the log of the
-- weeks since the run began and rules.curve_weeks before, a course of gains that slow down by
-- themselves. Weeks with too few sessions on one side have no row.
-- grain: client_id, exercise, week, end_days
-- client_id: the client
-- exercise: the exercise
-- week: Monday
-- end_days: length of the end [days]
-- end_sessions: sessions in it
-- end_slope: slope in it [%/week]
-- end_slope_se: its standard error without correlation [%/week]
-- earlier_slope: slope before it [%/week]
-- break_slope: end_slope less earlier_slope [%/week]
-- break_slope_se: its standard error without correlation [%/week]
-- freedom: degrees of freedom
-- rest: sum of squares about the lines
-- is_curved: whether the sessions of rules.curve_days before the end follow logs of weeks better than
-- weeks, by rules.curve_variances or more
-- slowed_slope: slope that the earlier course against logs would have had in the end [%/week]
-- log_break_ratio: break_slope over its standard error, against logs
with rules as (
    select *,
    from review.rules
),

ends as (
    select unnest([break_days, trend_days, 2 * break_days, long_break_days]) as end_days,
    from rules
),

starts as (
    select
        whole.*,
        ends.end_days,
        whole.end_from_weeks - (ends.end_days - rules.break_days) / 7 as from_weeks,
        ln(greatest(from_weeks, 0) + rules.curve_weeks) as from_logs,
    from int_lift_week__summed as whole
    cross join rules
    cross join ends
    where
        whole.window_days = rules.trend_days + rules.expected_days
        and whole.sessions >= 3
        and whole.until_on - whole.first_on >= ends.end_days + rules.trend_min_days
),

pairs as (
    select
        starts.*,
        (starts.end_days - rules.break_days) / 7 as shift,
        coalesce(ending.sessions, 0) as end_n,
        coalesce(ending.sum_weeks, 0) as end_weeks,
        coalesce(ending.sum_weeks_squared, 0) as end_weeks_squared,
        coalesce(ending.sum_weeks_values, 0) as end_weeks_values,
        coalesce(ending.sum_logs, 0) as end_logs,
        coalesce(ending.sum_logs_squared, 0) as end_logs_squared,
        coalesce(ending.sum_logs_values, 0) as end_logs_values,
        coalesce(ending.sum_values, 0) as end_values,
    from starts
    cross join rules
    left join int_lift_week__summed as ending
        on
            starts.client_id = ending.client_id
            and starts.exercise = ending.exercise
            and starts.week = ending.week
            and starts.band = ending.band
            and starts.end_days = ending.window_days
),

-- v: time into the end, w: time since its beginning, negative before it; y: values
axes as (
    select
        client_id,
        exercise,
        week,
        end_days,
        from_weeks,
        from_logs,
        sessions as n,
        end_n,
        sum_values as y,
        sum_values_squared as yy,
        unnest([
            {
                'axis': 'weeks',
                'v': end_weeks + end_n * shift,
                'vv': end_weeks_squared + 2 * shift * end_weeks + end_n * shift * shift,
                'vy': end_weeks_values + shift * end_values,
                'w': sum_weeks + sessions * shift,
                'ww': sum_weeks_squared + 2 * shift * sum_weeks + sessions * shift * shift,
                'wy': sum_weeks_values + shift * sum_values,
            },
            {
                'axis': 'logs',
                'v': end_logs - end_n * from_logs,
                'vv': end_logs_squared - 2 * from_logs * end_logs + end_n * from_logs * from_logs,
                'vy': end_logs_values - from_logs * end_values,
                'w': sum_logs - sessions * from_logs,
                'ww': sum_logs_squared - 2 * from_logs * sum_logs
                + sessions * from_logs * from_logs,
                'wy': sum_logs_values - from_logs * sum_values,
            },
        ], recursive := true),
    from pairs
),

-- u: time before the end. Sums per band, about its level
bands as (
    select
        *,
        w - v as u,
        ww - vv as uu,
        wy - vy as uy,
    from axes
),

sums as (
    select
        client_id,
        exercise,
        week,
        end_days,
        axis,
        any_value(from_weeks) as from_weeks,
        any_value(from_logs) as from_logs,
        sum(n) - count(*) - 2 as freedom,
        sum(end_n)::integer as end_sessions,
        sum(n - end_n) as earlier_sessions,
        sum(uu - u * u / n) as suu,
        sum(vv - v * v / n) as svv,
        sum(-u * v / n) as suv,
        sum(uy - u * y / n) as suy,
        sum(vy - v * y / n) as svy,
        sum(yy - y * y / n) as syy,
    from bands
    group by all
),

lines as (
    select
        sums.*,
        suu * svv - suv * suv as det,
        (svv * suy - suv * svy) / det as earlier_slope,
        (suu * svy - suv * suy) / det as end_slope,
        greatest(syy - earlier_slope * suy - end_slope * svy, 0) as rest,
        greatest(rest / freedom, pow(rules.noise_low_pct, 2)) as variance,
        end_slope - earlier_slope as break_slope,
        sqrt(variance * suu / det) as end_slope_se,
        sqrt(variance * (suu + svv + 2 * suv) / det) as break_slope_se,
    from sums
    cross join rules
    where
        suu * svv - suv * suv > 1e-6 * suu * svv
        and freedom > 0
        and end_sessions >= rules.break_min_sessions
        and earlier_sessions >= rules.trend_min_sessions
),

-- the course before the end: sums of rules.curve_days less those of the end, about each band's level
courses as (
    select
        whole.client_id,
        whole.exercise,
        whole.week,
        ends.end_days,
        whole.sessions - coalesce(ending.sessions, 0) as n,
        whole.sum_values - coalesce(ending.sum_values, 0) as y,
        whole.sum_values_squared - coalesce(ending.sum_values_squared, 0) as yy,
        whole.sum_weeks - coalesce(ending.sum_weeks, 0) as w,
        whole.sum_weeks_squared - coalesce(ending.sum_weeks_squared, 0) as ww,
        whole.sum_weeks_values - coalesce(ending.sum_weeks_values, 0) as wy,
        whole.sum_logs - coalesce(ending.sum_logs, 0) as l,
        whole.sum_logs_squared - coalesce(ending.sum_logs_squared, 0) as ll,
        whole.sum_logs_values - coalesce(ending.sum_logs_values, 0) as ly,
    from int_lift_week__summed as whole
    cross join rules
    cross join ends
    left join int_lift_week__summed as ending
        on
            whole.client_id = ending.client_id
            and whole.exercise = ending.exercise
            and whole.week = ending.week
            and whole.band = ending.band
            and ends.end_days = ending.window_days
    where whole.window_days = rules.curve_days and n >= 3
),

course_lines as (
    select
        client_id,
        exercise,
        week,
        end_days,
        pow(sum(wy - w * y / n), 2) / nullif(sum(ww - w * w / n), 0) as weeks_gain,
        pow(sum(ly - l * y / n), 2) / nullif(sum(ll - l * l / n), 0) as logs_gain,
    from courses
    group by all
)

select
    weeks.client_id,
    weeks.exercise,
    weeks.week,
    weeks.end_days,
    weeks.end_sessions,
    round(weeks.end_slope, 9) as end_slope,
    round(weeks.end_slope_se, 9) as end_slope_se,
    round(weeks.earlier_slope, 9) as earlier_slope,
    round(weeks.break_slope, 9) as break_slope,
    round(weeks.break_slope_se, 9) as break_slope_se,
    weeks.freedom,
    round(weeks.rest, 6) as rest,
    coalesce(
        courses.logs_gain - courses.weeks_gain > rules.curve_variances * weeks.variance,
        false
    ) as is_curved,
    round(
        logs.earlier_slope
        * (ln(weeks.from_weeks + weeks.end_days / 7 + rules.curve_weeks) - weeks.from_logs)
        / (weeks.end_days / 7),
        9
    ) as slowed_slope,
    round(logs.break_slope / logs.break_slope_se, 9) as log_break_ratio,
from lines as weeks
cross join rules
left join lines as logs
    on
        weeks.client_id = logs.client_id
        and weeks.exercise = logs.exercise
        and weeks.week = logs.week
        and weeks.end_days = logs.end_days
        and logs.axis = 'logs'
left join course_lines as courses
    on
        weeks.client_id = courses.client_id
        and weeks.exercise = courses.exercise
        and weeks.week = courses.week
        and weeks.end_days = courses.end_days
where weeks.axis = 'weeks'
