-- One row per look: which course the lift's sessions follow, its rate with an interval, and how
-- strongly they speak for a stall or a fall, before any status. A course that bends down must explain
-- the sessions better than a line, a curve, a possible step and a bend up. A lift that keeps to its
-- line is drawn towards the client's other lifts, by how uncertain it is.
-- grain: client_id, exercise, week
-- client_id: the client
-- exercise: the exercise
-- week: Monday of the look
-- run: number of the run
-- until_on: last used session
-- course: line, up (bend), down (bend), curve or step: what is followed
-- sessions: sessions that the rate rests on
-- window_days: days that it rests on [days]
-- rate: change a week [%/week]
-- low: lower end of its 95 % interval [%/week]
-- high: upper end of its 95 % interval [%/week]
-- early_rate: rate before the bend, of a curve before its end; null: another course [%/week]
-- expected: rate to be expected, the lift's own earlier one within bounds [%/week]
-- bend_gain: how much better the best bend down explains the sessions, in variances
-- bend_rate: rate since that bend; null: none can be told [%/week]
-- bend_early_rate: rate before that bend [%/week]
-- is_falling: whether it falls
-- seems_stalled: whether it has left its course, or makes no progress, on any evidence
-- is_bent: whether by a bend
-- flat_weeks: weeks without progress; null: progress cannot be excluded [weeks]
-- flat_rate: rate over them alone where only they tell; null: the rate tells [%/week]
-- flat_low: lower end of its 95 % interval [%/week]
-- flat_high: upper end of its 95 % interval [%/week]
-- flat_sessions: sessions in them
-- stall_p: probability of so much evidence for a stall by chance
-- fall_p: probability of so much evidence for a fall by chance
-- noise: standard deviation of sessions about their course [%]
-- correlation: between neighbouring sessions
with rules as (
    select *,
    from review.rules
),

scatters as (
    select
        look,
        count(*) as bands,
        sum(pairs) as pairs,
        sum(pair_squares) as pair_squares,
    from int_lift_look__summed
    group by all
),

-- the best of each kind: the first field of a course is its sum of squares
kinds as (
    select
        *,
        list_sort(curves)[1] as curve,
        list_sort([each for each in bends if each.rate >= each.early_rate])[1] as up,
        list_sort([each for each in bends if each.rate < each.early_rate])[1] as down,
    from int_lift_look__fitted
),

bests as (
    select
        *,
        least(line.rest, curve.rest) as plain_rest,
        -- a course may not fall: what keeping its rate at 0 costs is added
        list_min(
            [
                each.rest + pow(least(each.rate, 0), 2) / each.factor
                for each in list_concat(
                    [
                        { 'rest': line.rest, 'rate': line.rate, 'factor': line.factor },
                        { 'rest': step.rest, 'rate': step.rate, 'factor': step.factor },
                    ],
                    [
                        { 'rest': each.rest, 'rate': each.rate, 'factor': each.factor }
                        for each in bends
                    ]
                )
            ]
        ) as held_rest,
        list_min(
            list_append(
                [each.rest for each in bends if each.rate < 0],
                case when line.rate < 0 then line.rest end
            )
        ) as falling_rest,
    from kinds
),

looks as (
    select
        drawn.client_id,
        drawn.exercise,
        drawn.week,
        drawn.run,
        drawn.until_on,
        drawn.is_regaining,
        (drawn.until_on - drawn.first_on) / 7 as log_weeks,
        least(7 * rules.history_weeks, drawn.until_on - drawn.first_on + 1) as log_days,
        bests.*,
        bests.n - scatters.bands - 3 as freedom,
        least(line.rest, step.rest, curve.rest, up.rest, down.rest) / greatest(freedom, 1)
            as own_variance,
        scatters.pair_squares / (2 * nullif(scatters.pairs, 0)) as step_variance,
    from bests
    cross join rules
    inner join scatters on bests.look = scatters.look
    inner join int_lift_look__drawn as drawn on bests.look = drawn.look
    where
        bests.n >= rules.trend_min_sessions
        and drawn.until_on - drawn.first_on >= rules.trend_min_days
),

-- neighbours that are alike differ less from each other than from the course (von Neumann)
correlations as (
    select
        looks.*,
        (
            n * case
                when step_variance is null or own_variance = 0 then rules.correlation_low
                else greatest(1 - step_variance / own_variance, -1)
            end
            + rules.correlation_sessions * rules.correlation_low
        ) / (n + rules.correlation_sessions) as raw_correlation,
        round(least(greatest(raw_correlation, 0), rules.correlation_high), 9) as correlation,
    from looks
    cross join rules
),

variances as (
    select
        correlations.*,
        greatest(own_variance, pow(rules.course_noise_low_pct, 2))
        * (1 + correlation) / (1 - correlation) as variance,
        student_quantile(1.959964, greatest(freedom, 1)) as t,
    from correlations
    cross join rules
),

gains as (
    select
        variances.*,
        round(
            (
                least(line.rest, curve.rest + rules.curve_cost * variance, up.rest, step.rest)
                - down.rest
            ) / variance,
            6
        ) as bend_gained,
        round((plain_rest - up.rest) / variance, 6) as up_gained,
        round((plain_rest - step.rest) / variance, 6) as step_gained,
        round((line.rest - curve.rest) / variance, 6) as curve_gained,
        round((least(held_rest, curve.rest) - falling_rest) / variance, 6) as fall_gained,
    from variances
    cross join rules
),

chosen as (
    select
        gains.*,
        case
            when bend_gained >= rules.course_gain then 'down'
            when
                up_gained >= rules.course_gain and coalesce(up.rest < step.rest, true)
                then 'up'
            when step_gained >= rules.course_gain then 'step'
            when curve_gained >= rules.curve_gain then 'curve'
            else 'line'
        end as course,
    from gains
    cross join rules
),

-- the lifts of the week that keep to a line: the mean of their rates, by their precision, and the
-- spread between them (DerSimonian and Laird 1986)
lines as (
    select
        client_id,
        week,
        line.rate as line_rate,
        1 / (line.factor * variance) as weight,
    from chosen
    where course = 'line' and not is_regaining
),

joined as (
    select
        client_id,
        week,
        sum(weight * line_rate) / sum(weight) as rate,
        greatest(
            (
                sum(weight * line_rate * line_rate)
                - pow(sum(weight * line_rate), 2) / sum(weight)
                - count(*)
                + 1
            )
            / nullif(sum(weight) - sum(weight * weight) / sum(weight), 0),
            0
        ) as spread,
        sqrt(
            (1 + rules.shared_noise_share * (count(*) - 1)) / sum(weight)
            + spread * sum(weight * weight) / pow(sum(weight), 2)
        ) as rate_se,
    from lines
    cross join rules
    group by client_id, week, rules.joint_min_lifts, rules.shared_noise_share
    having count(*) >= rules.joint_min_lifts
),

-- how much the lift is drawn towards the client's others: the less it can tell, the more
drawn_together as (
    select
        chosen.*,
        line.factor * variance as own_square,
        case
            when course = 'line' and joined.rate is not null and not is_regaining
                then
                    own_square
                    / (own_square + greatest(joined.spread, pow(rules.joint_spread_low, 2)))
            else 0
        end as drawn,
        (1 - drawn) * line.rate + drawn * coalesce(joined.rate, 0) as line_rate,
        sqrt((1 - drawn) * own_square + pow(drawn * coalesce(joined.rate_se, 0), 2)) as line_se,
        case course
            when 'down' then down.rate
            when 'up' then up.rate
            when 'step' then step.rate
            when 'curve' then curve.rate
            else line_rate
        end as rate,
        case course
            when 'down' then down.early_rate
            when 'up' then up.early_rate
            when 'curve' then curve.early_rate
        end as early_rate,
        case course
            when 'up' then sqrt(up.factor * variance)
            when 'step' then sqrt(step.factor * variance)
            else line_se
        end as rate_se,
    from chosen
    cross join rules
    left join joined
        on chosen.client_id = joined.client_id and chosen.week = joined.week
),

-- which bend or which curve it is, the sessions do not tell well: all that they do not exclude count
reaches as (
    select  -- noqa: LT09
        drawn_together.*,
        case course
            when 'down'
                then list_filter(
                    bends,
                    lambda each: each.rate < each.early_rate
                    and each.rest - down.rest <= t * t * variance
                ).list_transform(
                    lambda each: {
                        'rate': each.rate,
                        'half': sqrt(each.factor * (t * t * variance - each.rest + down.rest)),
                    }
                )
            when 'curve'
                then list_filter(
                    curves, lambda each: each.rest - curve.rest <= t * t * variance
                ).list_transform(
                    lambda each: {
                        'rate': each.rate,
                        'half': sqrt(each.factor * (t * t * variance - each.rest + curve.rest)),
                    }
                )
            else [{ 'rate': rate, 'half': t * rate_se }]
        end as reached,
        list_transform(
            spans,
            lambda each: {
                'z': round(
                    (each.rate - rules.useful_rate_pct) / sqrt(each.factor * variance), 9
                ),
                'weeks': -each.weeks,
                'n': each.n,
                'rate': each.rate,
                'half': t * sqrt(each.factor * variance),
            }
        ).list_sort() as span_rates,
    from drawn_together
    cross join rules
),

intervals as (
    select
        reaches.*,
        round(list_min([each.rate - each.half for each in reached]), 9) as low,
        round(list_max([each.rate + each.half for each in reached]), 9) as high,
        span_rates[1] as span,
        -- a line and curves are hard to tell apart: what speaks most for progress counts
        round(
            case
                when course in ('line', 'curve')
                    then
                        greatest(
                            case
                                when line.rest - plain_rest <= rules.reach_gain * variance
                                    then (line_rate - rules.useful_rate_pct) / line_se
                            end,
                            list_max(
                                [
                                    (each.rate - rules.useful_rate_pct)
                                    / sqrt(each.factor * variance)
                                    for each in curves
                                    if each.rest - plain_rest <= rules.reach_gain * variance
                                ]
                            ),
                            case
                                when course = 'curve'
                                    then list_max(
                                        [
                                            each.z
                                            for each in span_rates
                                            if each.weeks = -rules.bend_weeks_high
                                        ]
                                    )
                            end
                        )
                when course = 'down'
                    then (rate - rules.useful_rate_pct) / sqrt(down.factor * variance)
                else (rate - rules.useful_rate_pct) / rate_se
            end,
            9
        ) as z,
    from reaches
    cross join rules
),

tests as (
    select
        intervals.*,
        coalesce(
            bend_gained >= rules.course_gain
            and down.rate < rules.halved_share * down.early_rate,
            false
        ) as is_bent,
        log_weeks >= rules.flat_min_weeks and z < -rules.flat_z as is_flat,
        coalesce(span.z < -rules.flat_span_z, false) as is_flat_since,
        coalesce(high < 0 and fall_gained >= rules.fall_gain, false) as is_falling,
        not is_bent and not is_flat and is_flat_since as is_span_alone,
    from intervals
    cross join rules
)

select
    tests.client_id,
    tests.exercise,
    tests.week,
    tests.run,
    tests.until_on,
    tests.course,
    case tests.course
        when 'down' then tests.down.n
        when 'up' then tests.up.n
        else tests.n
    end::integer as sessions,
    case tests.course
        when 'down' then 7 * tests.down.place
        when 'up' then 7 * tests.up.place
        when 'curve' then 7 * rules.curve_end_weeks
        else tests.log_days
    end::integer as window_days,
    round(tests.rate, 9) as rate,
    tests.low,
    tests.high,
    tests.early_rate,
    case
        when tests.log_days < rules.trend_days + rules.trend_min_days
            then rules.expected_default_pct
        else
            round(
                greatest(
                    least(coalesce(tests.early_rate, tests.rate), rules.expected_high_pct),
                    rules.expected_low_pct
                ),
                9
            )
    end as expected,
    coalesce(tests.bend_gained, 0) as bend_gain,
    tests.down.rate as bend_rate,
    tests.down.early_rate as bend_early_rate,
    tests.is_falling,
    tests.course <> 'step'
    and not (tests.low > 0 and round(tests.rate, 9) >= rules.useful_rate_pct)
    and (tests.is_bent or tests.is_flat or tests.is_flat_since) as seems_stalled,
    tests.is_bent,
    case
        when tests.is_bent then tests.down.place
        when tests.is_flat then tests.log_days // 7
        when tests.is_flat_since then -tests.span.weeks
    end::integer as flat_weeks,
    case when tests.is_span_alone then tests.span.rate end as flat_rate,
    case when tests.is_span_alone then round(tests.span.rate - tests.span.half, 9) end as flat_low,
    case when tests.is_span_alone then round(tests.span.rate + tests.span.half, 9) end
        as flat_high,
    case when tests.is_span_alone then tests.span.n end::integer as flat_sessions,
    round(
        least(
            1,
            case
                when tests.down.rate < rules.halved_share * tests.down.early_rate
                    then 4 * normal_tail(sqrt(greatest(tests.bend_gained, 0)))
            end,
            -- a bend is where the sessions bend most: what follows it is no fresh test of a rate
            case
                when tests.log_weeks >= rules.flat_min_weeks
                    then
                        2 * normal_tail(
                            -least(
                                case when tests.course <> 'down' then tests.z end,
                                tests.span.z + rules.flat_span_slack
                            )
                        )
            end
        ),
        9
    ) as stall_p,
    round(least(1, 4 * normal_tail(sqrt(greatest(coalesce(tests.fall_gained, 0), 0)))), 9)
        as fall_p,
    round(sqrt(tests.own_variance), 9) as noise,
    tests.correlation,
from tests
cross join rules
