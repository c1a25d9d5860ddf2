-- One row per client, exercise and week with a session: the rate that is reported, what was to be
-- expected and whether the data speak against it, before any status. The rate is the slope of
-- rules.trend_days, grown to rules.trend_days_max where its interval is wider than twice the
-- expected rate; where the lift has left its own earlier line (one-sided 4.5 %), it is the slope
-- since.
-- grain: client_id, exercise, week
-- client_id: the client
-- exercise: the exercise
-- week: Monday
-- run: number of the run
-- first_on: first used session of the run
-- until_on: last used session
-- window_days: days that the rate rests on; null: too few sessions [days]
-- sessions: sessions in them; without a rate: in rules.trend_days
-- rate: change a week [%/week]
-- rate_se: standard error, correlation between sessions allowed for [%/week]
-- low: lower end of the 95 % interval [%/week]
-- high: upper end of the 95 % interval [%/week]
-- expected: rate to be expected [%/week]
-- is_expected_known: whether it comes from the lift's own earlier line
-- is_behind: whether the lift is below what was to be expected at one-sided 5 %
-- is_slowing: whether its end alone is under half of that and leans away from the earlier line
-- (one-sided 15 %): too little for a stall, too much to call the lift rising
-- end_rate: slope of the lift's end; null: no earlier line [%/week]
-- noise: standard deviation of sessions about the line [%]
-- correlation: between neighbouring sessions
with rules as (
    select *,
    from review.rules
),

factors as (
    select
        fitted.*,
        sqrt((1 + correlation) / (1 - correlation)) as widening,
        sqrt(
            (1 + greatest(correlation, rules.correlation_low))
            / (1 - greatest(correlation, rules.correlation_low))
        ) as reported_widening,
        fitted.until_on - fitted.first_on >= rules.trend_min_days as is_long_enough,
        earlier_slope is not null as is_expected_known,
        case
            when earlier_slope is null then rules.expected_default_pct
            else greatest(least(earlier_slope, rules.expected_high_pct), rules.expected_low_pct)
        end as expected,
    from int_lift_week__fitted as fitted
    cross join rules
),

-- Student's t from the normal quantile and the degrees of freedom: two terms of its expansion
-- (Abramowitz and Stegun 26.7.5). 1.960 is two-sided, 1.645 one-sided 5 %; the break is tested at
-- 4.5 % (1.695), so that breaks and falls together accuse no more than 5 % of those who gain
quantiles as (
    select
        *,
        1.959964 + 2.372272 / freedom + 2.822524 / (freedom * freedom) as t_two,
        1.959964 + 2.372272 / long_freedom + 2.822524 / (long_freedom * long_freedom)
            as long_t_two,
        1.644854 + 1.523774 / long_freedom + 1.420199 / (long_freedom * long_freedom)
            as long_t_one,
        1.644854 + 1.523774 / wide_freedom + 1.420199 / (wide_freedom * wide_freedom)
            as wide_t_one,
        1.959964 + 2.372272 / joined_freedom + 2.822524 / (joined_freedom * joined_freedom)
            as joined_t_two,
        1.695398 + 1.642171 / joined_freedom + 1.594753 / (joined_freedom * joined_freedom)
            as joined_t_one,
    from factors
),

tests as (
    select
        quantiles.*,
        coalesce(
            break_slope < -joined_t_one * widening * break_slope_se, false
        ) as is_down_break,
        coalesce(
            break_slope < -1.036433 * widening * break_slope_se and end_slope < expected / 2, false
        ) as is_slowing,
        coalesce(
            break_slope > joined_t_one * widening * break_slope_se, false
        ) as is_up_break,
        coalesce(
            least(
                long_slope + long_t_one * widening * long_slope_se,
                wide_slope + wide_t_one * widening * wide_slope_se
            ) < case
                when is_expected_known then rules.expected_low_pct
                else rules.worthwhile_pct
            end,
            false
        ) as is_flat,
        is_long_enough and sessions >= rules.trend_min_sessions and freedom >= 3 as has_short,
        is_long_enough and long_sessions >= rules.trend_min_sessions and long_freedom >= 3
            as has_long,
    from quantiles
    cross join rules
),

choices as (
    select
        tests.*,
        case
            when is_down_break or is_up_break then 'end'
            when
                has_short
                and 2 * t_two * reported_widening * slope_se <= 2 * expected
                then 'short'
            when has_long then 'long'
            when has_short then 'short'
        end as choice,
    from tests
),

rates as (
    select
        choices.*,
        case choice
            when 'end' then rules.break_days
            when 'short' then rules.trend_days
            when 'long' then rules.trend_days_max
        end as window_days,
        case choice
            when 'end' then end_sessions
            when 'long' then long_sessions
            else choices.sessions
        end as rate_sessions,
        case choice
            when 'end' then end_slope
            when 'short' then slope
            when 'long' then long_slope
        end as rate,
        case choice
            when 'end' then end_slope_se
            when 'short' then slope_se
            when 'long' then long_slope_se
        end * reported_widening as rate_se,
        case choice
            when 'end' then joined_t_two
            when 'short' then t_two
            when 'long' then long_t_two
        end as t,
    from choices
    cross join rules
)

select
    client_id,
    exercise,
    week,
    run,
    first_on,
    until_on,
    least(window_days, until_on - first_on + 1)::integer as window_days,
    rate_sessions::integer as sessions,
    round(rate, 9) as rate,
    round(rate_se, 9) as rate_se,
    round(rate - t * rate_se, 9) as low,
    round(rate + t * rate_se, 9) as high,
    round(expected, 9) as expected,
    is_expected_known,
    is_down_break or is_flat as is_behind,
    is_slowing and not is_down_break as is_slowing,
    end_slope as end_rate,
    noise,
    correlation,
from rates
