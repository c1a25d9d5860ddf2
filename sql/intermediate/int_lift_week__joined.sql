-- One row per client, exercise, week with a session and length of the lift's end: two lines through
-- its sessions that meet where the end begins, each band of repetitions held by three or more
-- sessions having a level of its own. The difference of the slopes tells whether the lift has left
-- its own earlier course, whatever that was. Weeks with too few sessions on one side have no row.
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
with rules as (
    select *,
    from review.rules
),

ends as (
    select
        end_days,
        (end_days - break_days) / 7 as shift,
    from (
        select
            break_days,
            unnest([break_days, trend_days, 2 * break_days, long_break_days]) as end_days,
        from rules
    ) as lengths
),

-- u: weeks before the end, negative; v: weeks into it. Their sums per band, about its level
bands as (
    select
        whole.client_id,
        whole.exercise,
        whole.week,
        whole.first_on,
        whole.until_on,
        ends.end_days,
        whole.sessions as n,
        coalesce(ending.sessions, 0) as end_n,
        coalesce(ending.sum_weeks + ending.sessions * shift, 0) as v,
        coalesce(
            ending.sum_weeks_squared + 2 * shift * ending.sum_weeks
            + ending.sessions * shift * shift,
            0
        ) as vv,
        coalesce(ending.sum_weeks_values + shift * ending.sum_values, 0) as vy,
        whole.sum_weeks + whole.sessions * shift - v as u,
        whole.sum_weeks_squared + 2 * shift * whole.sum_weeks + whole.sessions * shift * shift
        - vv as uu,
        whole.sum_weeks_values + shift * whole.sum_values - vy as uy,
        whole.sum_values as y,
        whole.sum_values_squared as yy,
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
    where
        whole.window_days = rules.trend_days + rules.expected_days
        and whole.sessions >= 3
        and whole.until_on - whole.first_on >= ends.end_days + rules.trend_min_days
),

sums as (
    select
        client_id,
        exercise,
        week,
        end_days,
        sum(n) - count(*) - 2 as freedom,
        sum(end_n)::integer as end_sessions,
        sum(uu - u * u / n) as suu,
        sum(vv - v * v / n) as svv,
        sum(-u * v / n) as suv,
        sum(uy - u * y / n) as suy,
        sum(vy - v * y / n) as svy,
        sum(yy - y * y / n) as syy,
    from bands
    cross join rules
    group by all
    having
        sum(end_n) >= any_value(rules.break_min_sessions)
        and sum(n - end_n) >= any_value(rules.trend_min_sessions)
),

lines as (
    select
        *,
        suu * svv - suv * suv as det,
        (svv * suy - suv * svy) / det as earlier_slope,
        (suu * svy - suv * suy) / det as end_slope,
        greatest(syy - earlier_slope * suy - end_slope * svy, 0) as rest,
    from sums
    where suu * svv - suv * suv > 1e-6 * suu * svv and freedom > 0
)

select
    lines.client_id,
    lines.exercise,
    lines.week,
    lines.end_days,
    lines.end_sessions,
    round(lines.end_slope, 9) as end_slope,
    round(
        sqrt(greatest(rest / freedom, pow(rules.noise_low_pct, 2)) * suu / det), 9
    ) as end_slope_se,
    round(lines.earlier_slope, 9) as earlier_slope,
    round(lines.end_slope - lines.earlier_slope, 9) as break_slope,
    round(
        sqrt(
            greatest(rest / freedom, pow(rules.noise_low_pct, 2))
            * (suu + svv + 2 * suv) / det
        ),
        9
    ) as break_slope_se,
    lines.freedom,
    round(lines.rest, 6) as rest,
from lines
cross join rules
