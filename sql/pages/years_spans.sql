-- One row per span of calendar quarters in which the lifts of the client $client_id did the same
-- (span_from is set), and one per what they did (span_from is null): beside it sessions, hard sets
-- and bodyweight. A lift's rate is the slope of its log index over the quarter's sessions, from
-- rules.trend_min_sessions on; the quarter's is the median of three lifts or more, with an interval
-- of two standard errors from the spread between them. rose: the interval lies above 0 and the rate
-- is the useful rate or more; fell: all below 0; held: neither, by an interval of at most twice the
-- useful rate to both sides; untold: too few lifts, or too wide an interval.
with rules as (
    select *,
    from review.rules
),

coverage as (
    select *,
    from review.coverage
    where client_id = $client_id
),

quarters as (
    select
        unnest(generate_series(
            date_trunc('quarter', first_on), date_trunc('quarter', covered_on), interval 3 months
        ))::date as quarter,
        first_on,
        covered_on,
    from coverage
),

spanned as (
    select
        quarter,
        (
            least(quarter + interval 3 months - interval 1 day, covered_on)::date
            - greatest(quarter, first_on) + 1
        ) / 7 as weeks,
        greatest(quarter, first_on) as from_on,
        least(quarter + interval 3 months - interval 1 day, covered_on)::date as to_on,
    from quarters
),

done as (
    select
        date_trunc('quarter', performed_on)::date as quarter,
        count(distinct performed_on) as sessions,
        count(*) filter (where is_hard) as hard_sets,
    from review.graded_sets
    where client_id = $client_id
    group by all
),

weighed as (
    select
        date_trunc('quarter', performed_on)::date as quarter,
        median(bodyweight_kg) as bodyweight_kg,
    from ledger.bodyweights
    where client_id = $client_id and performed_on is not null and replaced_by is null
    group by all
),

lifts as (
    select
        sessions.exercise,
        date_trunc('quarter', sessions.day)::date as quarter,
        100 * (
            exp(
                7 * regr_slope(
                    ln(sessions.strength_index), (sessions.day - date '2000-01-01')::double
                )
            ) - 1
        ) as rate_pct,
    from review.lift_session as sessions
    cross join rules
    where
        sessions.client_id = $client_id
        and sessions.strength_index > 0
        and not sessions.is_light
    group by all
    having count(*) >= any_value(rules.trend_min_sessions)
),

joined as (
    select
        quarter,
        count(*) as lifts,
        median(rate_pct) as rate_pct,
        -- the median of n scatters 1.25 times as much as their mean
        2 * 1.2533 * stddev_samp(rate_pct) / sqrt(count(*)) as half_width_pct,
    from lifts
    group by all
    having count(*) >= 3
),

told as (
    select
        spanned.quarter,
        spanned.from_on,
        spanned.to_on,
        spanned.weeks,
        coalesce(done.sessions, 0) as sessions,
        coalesce(done.hard_sets, 0) as hard_sets,
        joined.rate_pct,
        weighed.bodyweight_kg,
        case
            when
                joined.rate_pct - joined.half_width_pct > 0
                and joined.rate_pct >= rules.useful_rate_pct
                then 'rose'
            when joined.rate_pct + joined.half_width_pct < 0 then 'fell'
            when joined.half_width_pct <= 2 * rules.useful_rate_pct then 'held'
            else 'untold'
        end as moved,
    from spanned
    cross join rules
    left join done on spanned.quarter = done.quarter
    left join joined on spanned.quarter = joined.quarter
    left join weighed on spanned.quarter = weighed.quarter
),

turned as (
    select
        *,
        coalesce(moved <> lag(moved) over (order by quarter), true) as is_turn,
    from told
),

grouped as (
    select
        *,
        count(*) filter (where is_turn) over (order by quarter) as span,
    from turned
)

select
    if(grouping(span) = 0, min(from_on), null) as span_from,
    if(grouping(span) = 0, max(to_on), null) as span_to,
    moved,
    sum(rate_pct * weeks) / sum(weeks) filter (where rate_pct is not null) as rate_pct,
    sum(sessions) / sum(weeks) as weekly_sessions,
    sum(hard_sets) / sum(weeks) as weekly_hard_sets,
    arg_min(bodyweight_kg, quarter) filter (where bodyweight_kg is not null) as bodyweight_from_kg,
    arg_max(bodyweight_kg, quarter) filter (where bodyweight_kg is not null) as bodyweight_to_kg,
    sum(weeks) as weeks,
from grouped
group by grouping sets ((moved, span), (moved))
order by span_from nulls last, moved
