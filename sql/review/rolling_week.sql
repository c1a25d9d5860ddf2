-- One row per client, muscle and calendar day from the client's first logged day to the as-of day:
-- the hard sets of that day and the six before it. Days and muscles without a set have zeros.
-- kind: view
-- grain: client_id, muscle, day
-- client_id: the client
-- muscle: the muscle
-- day: last day of the seven
-- direct_sets_7d: hard sets that trained it directly [sets]
-- fractional_sets_7d: direct sets, and indirect ones at rules.indirect_weight [sets]
-- all_sets_7d: direct and indirect hard sets alike [sets]
-- hits_7d: days with a direct hard set [days]
-- days_since_hit: since the last day with a direct hard set; null: none yet [days]
with client_spans as (
    select
        client_id,
        min(performed_on) as first_on,
    from review.graded_sets
    group by all
),

calendar as (
    select
        client_spans.client_id,
        unnest(generate_series(client_spans.first_on, run.as_of, interval 1 day))::date as day,
    from client_spans
    cross join review.run as run
),

muscle_days as (
    select
        calendar.client_id,
        muscles.muscle,
        calendar.day,
        coalesce(muscle_day.direct_sets, 0) as direct_sets,
        coalesce(muscle_day.fractional_sets, 0) as fractional_sets,
        coalesce(muscle_day.all_sets, 0) as all_sets,
        case when muscle_day.direct_sets > 0 then calendar.day end as hit_on,
    from calendar
    cross join review.muscles as muscles
    left join review.muscle_day as muscle_day
        on
            calendar.client_id = muscle_day.client_id
            and calendar.day = muscle_day.day
            and muscles.muscle = muscle_day.muscle
)

select
    client_id,
    muscle,
    day,
    round(sum(direct_sets) over seven_days, 9) as direct_sets_7d,
    round(sum(fractional_sets) over seven_days, 9) as fractional_sets_7d,
    round(sum(all_sets) over seven_days, 9) as all_sets_7d,
    count(hit_on) over seven_days as hits_7d,
    day - max(hit_on) over (partition by client_id, muscle order by day) as days_since_hit,
from muscle_days
window seven_days as (
    partition by client_id, muscle
    order by day
    rows between 6 preceding and current row
)
