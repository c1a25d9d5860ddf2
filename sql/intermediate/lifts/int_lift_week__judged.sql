-- One row per client, exercise and week with a session: the rate that is reported, what was to be
-- expected and whether the data speak against it, before any status. The rate is the slope of
-- rules.trend_days, grown to rules.trend_days_max where its interval is wider than twice the
-- expected rate. Where the lift has left its own earlier line (one-sided 4 % in the last
-- rules.break_days, 1 % in the last rules.long_break_days) it is the slope since: tests that strict
-- keep all alarms together at 5 % of the lifters who gain, as measured in tests/README.md. Where the
-- earlier course is curved it must be left by the line against logs of weeks as well, and the rate to
-- be expected is the one to which that line had slowed down.
-- A lift that seems to fall since then has perhaps stood still for longer, and only the line is bent: then the
-- rate is the slope of the end, of up to rules.long_break_days, that fits its sessions best.
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
-- is_behind: whether the lift has left its own earlier line, or the slopes of rules.trend_days_max and
-- of the widest line are both below the least rate to be expected, where unknown the least worth
-- having (one-sided 1 %)
-- is_slowing: whether its end alone is under half of that and leans away from the earlier line
-- (one-sided 15 %): too little for a stall, too much to call the lift rising
-- end_rate: slope of the lift's end; null: no earlier line [%/week]
-- noise: standard deviation of sessions about the line [%]
-- correlation: between neighbouring sessions
with rules as (
    select *,
    from review.rules
),

-- Student's t from the normal quantile and the degrees of freedom: two terms of its expansion
-- (Abramowitz and Stegun 26.7.5). One-sided: 15 % leaning, 4 % short break, 1 % long break and flat
joined as (
    select
        *,
        1.959964 + 2.372271 / freedom + 2.822499 / (freedom * freedom) as t_two_sided,
        1.036433 + 0.537441 / freedom + 0.280232 / (freedom * freedom) as t_leaning,
        1.750686 + 1.779092 / freedom + 1.805514 / (freedom * freedom) as t_short_break,
        2.326348 + 3.729075 / freedom + 5.719747 / (freedom * freedom) as t_long_break,
    from int_lift_week__joined
),

best_ends as (
    select *,
    from joined
    qualify
        row_number() over (
            partition by client_id, exercise, week
            order by rest, end_days
        ) = 1
),

factors as (
    select
        fitted.*,
        ending.end_sessions,
        ending.end_slope,
        ending.end_slope_se,
        ending.t_two_sided as end_t,
        ending.break_slope,
        ending.break_slope_se,
        ending.earlier_slope,
        coalesce(ending.is_curved, false) as is_curved,
        ending.slowed_slope,
        ending.log_break_ratio,
        ending.t_leaning,
        ending.t_short_break,
        long_ending.end_sessions as long_end_sessions,
        long_ending.end_slope as long_end_slope,
        long_ending.end_slope_se as long_end_slope_se,
        long_ending.t_two_sided as long_end_t,
        long_ending.break_slope as long_break_slope,
        long_ending.break_slope_se as long_break_slope_se,
        long_ending.earlier_slope as long_earlier_slope,
        coalesce(long_ending.is_curved, false) as is_long_curved,
        long_ending.slowed_slope as long_slowed_slope,
        long_ending.log_break_ratio as long_log_break_ratio,
        long_ending.t_long_break,
        best_ends.end_days as best_end_days,
        best_ends.end_sessions as best_end_sessions,
        best_ends.end_slope as best_end_slope,
        best_ends.end_slope_se as best_end_slope_se,
        best_ends.t_two_sided as best_end_t,
        sqrt((1 + correlation) / (1 - correlation)) as widening,
        sqrt(
            (1 + greatest(correlation, rules.correlation_low))
            / (1 - greatest(correlation, rules.correlation_low))
        ) as reported_widening,
        fitted.until_on - fitted.first_on >= rules.trend_min_days as is_long_enough,
        1.959964 + 2.372271 / fitted.freedom + 2.822499 / (fitted.freedom * fitted.freedom)
            as t_two,
        1.959964 + 2.372271 / long_freedom + 2.822499 / (long_freedom * long_freedom)
            as long_t_two,
        2.326348 + 3.729075 / long_freedom + 5.719747 / (long_freedom * long_freedom)
            as long_t_flat,
        2.326348 + 3.729075 / wide_freedom + 5.719747 / (wide_freedom * wide_freedom)
            as wide_t_flat,
    from int_lift_week__fitted as fitted
    cross join rules
    left join joined as ending
        on
            fitted.client_id = ending.client_id
            and fitted.exercise = ending.exercise
            and fitted.week = ending.week
            and ending.end_days = rules.break_days
    left join best_ends
        on
            fitted.client_id = best_ends.client_id
            and fitted.exercise = best_ends.exercise
            and fitted.week = best_ends.week
    left join joined as long_ending
        on
            fitted.client_id = long_ending.client_id
            and fitted.exercise = long_ending.exercise
            and fitted.week = long_ending.week
            and long_ending.end_days = rules.long_break_days
),

breaks as (
    select
        *,
        coalesce(
            break_slope < -t_short_break * widening * break_slope_se
            and (not is_curved or log_break_ratio < -t_short_break * widening),
            false
        ) as is_down_break,
        coalesce(break_slope > t_short_break * widening * break_slope_se, false) as is_up_break,
        coalesce(
            break_slope < -t_leaning * widening * break_slope_se
            and (not is_curved or log_break_ratio < -t_leaning * widening),
            false
        ) as is_leaning,
        coalesce(
            long_break_slope < -t_long_break * widening * long_break_slope_se
            and (not is_long_curved or long_log_break_ratio < -t_long_break * widening)
            and not is_down_break
            and not is_up_break,
            false
        ) as is_long_break,
    from factors
),

expectations as (
    select
        breaks.*,
        earlier_slope is not null as is_expected_known,
        case
            when earlier_slope is null then rules.expected_default_pct
            else
                greatest(
                    least(
                        case
                            when is_long_break and is_long_curved then long_slowed_slope
                            when is_long_break then long_earlier_slope
                            when is_curved then slowed_slope
                            else earlier_slope
                        end,
                        rules.expected_high_pct
                    ),
                    rules.expected_low_pct
                )
        end as expected,
    from breaks
    cross join rules
),

tests as (
    select
        expectations.*,
        coalesce(
            least(
                long_slope + long_t_flat * widening * long_slope_se,
                wide_slope + wide_t_flat * widening * wide_slope_se
            ) < case
                when is_expected_known then rules.expected_low_pct
                else rules.worthwhile_pct
            end,
            false
        ) as is_flat,
        is_long_enough and sessions >= rules.trend_min_sessions and freedom >= 3 as has_short,
        is_long_enough and long_sessions >= rules.trend_min_sessions and long_freedom >= 3
            as has_long,
    from expectations
    cross join rules
),

choices as (
    select
        *,
        case
            when
                is_down_break
                and end_slope + end_t * reported_widening * end_slope_se < 0
                then 'best_end'
            when is_down_break or is_up_break then 'end'
            when is_long_break then 'long_end'
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
        choices.* exclude (sessions),
        case choice
            when 'best_end' then best_end_days
            when 'end' then rules.break_days
            when 'long_end' then rules.long_break_days
            when 'short' then rules.trend_days
            when 'long' then rules.trend_days_max
        end as window_days,
        case choice
            when 'best_end' then best_end_sessions
            when 'end' then end_sessions
            when 'long_end' then long_end_sessions
            when 'long' then long_sessions
            else sessions
        end as rate_sessions,
        case choice
            when 'best_end' then best_end_slope
            when 'end' then end_slope
            when 'long_end' then long_end_slope
            when 'short' then slope
            when 'long' then long_slope
        end as rate,
        case choice
            when 'best_end' then best_end_slope_se
            when 'end' then end_slope_se
            when 'long_end' then long_end_slope_se
            when 'short' then slope_se
            when 'long' then long_slope_se
        end * reported_widening as rate_se,
        case choice
            when 'best_end' then best_end_t
            when 'end' then end_t
            when 'long_end' then long_end_t
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
    -- least() passes over a null: without a rate there is no window
    case
        when window_days is not null then least(window_days, until_on - first_on + 1)
    end::integer as window_days,
    rate_sessions::integer as sessions,
    round(rate, 9) as rate,
    round(rate_se, 9) as rate_se,
    round(rate - t * rate_se, 9) as low,
    round(rate + t * rate_se, 9) as high,
    round(expected, 9) as expected,
    is_expected_known,
    is_down_break or is_long_break or is_flat as is_behind,
    is_leaning
    and not is_down_break
    and coalesce(end_slope < expected / 2, false) as is_slowing,
    end_slope as end_rate,
    noise,
    correlation,
from rates
