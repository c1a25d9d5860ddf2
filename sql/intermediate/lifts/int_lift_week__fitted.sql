-- One row per client, exercise and week with a session: the lines through the lift's sessions.
-- Least squares on log values, each band of repetitions held by three or more sessions having a
-- level of its own.
-- Correlation between sessions: von Neumann's ratio, drawn towards rules.correlation_low.
-- grain: client_id, exercise, week
-- client_id: the client
-- exercise: the exercise
-- week: Monday
-- run: number of the run
-- first_on: first used session of the run
-- until_on: last used session
-- noise: standard deviation of sessions about the widest line [%]
-- correlation: between neighbouring sessions
-- sessions: sessions in the window of rules.trend_days
-- slope: slope of the one line through them [%/week]
-- slope_se: its standard error without correlation [%/week]
-- freedom: its degrees of freedom
-- long_sessions: sessions in the window of rules.trend_days_max
-- long_slope: slope of the one line through them [%/week]
-- long_slope_se: its standard error without correlation [%/week]
-- long_freedom: its degrees of freedom
-- wide_slope: slope of the one line over the earlier line and the end together [%/week]
-- wide_slope_se: its standard error without correlation [%/week]
-- wide_freedom: its degrees of freedom
with rules as (
    select *,
    from review.rules
),

summed as (
    select *,
    from int_lift_week__summed
    where sessions >= 3
),

lines as (
    select
        client_id,
        exercise,
        week,
        window_days,
        any_value(run) as run,
        any_value(first_on) as first_on,
        any_value(until_on) as until_on,
        sum(sessions)::integer as n,
        sum(sessions)::integer - count(*) - 1 as freedom,
        sum(sum_weeks_squared - sum_weeks * sum_weeks / sessions) as sww,
        sum(sum_weeks_values - sum_weeks * sum_values / sessions) as swv,
        sum(sum_values_squared - sum_values * sum_values / sessions) as svv,
        sum(steps) as steps,
        sum(sum_steps_squared) as steps_squared,
    from summed
    group by all
),

fitted_lines as (
    select
        *,
        swv / nullif(sww, 0) as slope,
        sqrt(
            greatest(
                (svv - swv * swv / nullif(sww, 0)) / nullif(greatest(freedom, 0), 0),
                pow(rules.noise_low_pct, 2)
            ) / nullif(sww, 0)
        ) as slope_se,
        -- what sums of floats leave of a perfect line is nothing, not noise that repeats itself
        round(greatest(svv - swv * swv / nullif(sww, 0), 0), 6) as rest,
    from lines
    cross join rules
    where sww > 1e-9
),

widest as (
    select fitted_lines.*,
    from fitted_lines
    cross join rules
    where window_days = rules.trend_days + rules.expected_days
),

noises as (
    select
        widest.client_id,
        widest.exercise,
        widest.week,
        widest.run,
        widest.first_on,
        widest.until_on,
        widest.steps,
        widest.n,
        widest.slope as wide_slope,
        widest.slope_se as wide_slope_se,
        widest.freedom as wide_freedom,
        coalesce(joined.freedom, greatest(widest.freedom, 0)) as freedom,
        coalesce(joined.rest, widest.rest) as rest,
        widest.steps_squared / (2 * nullif(widest.steps, 0)) as step_variance,
    from widest
    cross join rules
    left join int_lift_week__joined as joined
        on
            widest.client_id = joined.client_id
            and widest.exercise = joined.exercise
            and widest.week = joined.week
            and joined.end_days = rules.break_days
),

first_correlations as (
    select
        *,
        coalesce(
            greatest(
                least(1 - step_variance / nullif(rest / nullif(freedom, 0), 0), 0.6), 0
            ),
            0
        ) as correlation_0,
    from noises
),

-- a line takes more out of correlated noise than out of independent: each of its parameters
-- (1 + r) / (1 - r) times as much
corrected as (
    select
        *,
        rest / nullif(
            greatest(
                n - (n - freedom) * (1 + correlation_0) / (1 - correlation_0), freedom / 2
            ),
            0
        ) as variance,
    from first_correlations
),

correlations as (
    select
        corrected.*,
        (
            steps * coalesce(1 - step_variance / nullif(variance, 0), 0)
            + rules.correlation_sessions * rules.correlation_low
        ) / (steps + rules.correlation_sessions) as correlation,
    from corrected
    cross join rules
)

select
    correlations.client_id,
    correlations.exercise,
    correlations.week,
    correlations.run,
    correlations.first_on,
    correlations.until_on,
    round(sqrt(correlations.variance), 9) as noise,
    round(least(greatest(correlations.correlation, 0), 0.8), 9) as correlation,
    coalesce(short.n, 0) as sessions,
    round(short.slope, 9) as slope,
    round(short.slope_se, 9) as slope_se,
    short.freedom,
    long.n as long_sessions,
    round(long.slope, 9) as long_slope,
    round(long.slope_se, 9) as long_slope_se,
    long.freedom as long_freedom,
    round(correlations.wide_slope, 9) as wide_slope,
    round(correlations.wide_slope_se, 9) as wide_slope_se,
    correlations.wide_freedom,
from correlations
cross join rules
left join fitted_lines as short
    on
        correlations.client_id = short.client_id
        and correlations.exercise = short.exercise
        and correlations.week = short.week
        and short.window_days = rules.trend_days
left join fitted_lines as long
    on
        correlations.client_id = long.client_id
        and correlations.exercise = long.exercise
        and correlations.week = long.week
        and long.window_days = rules.trend_days_max
