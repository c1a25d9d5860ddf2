-- One row per client, look and muscle with a hit: how often and how much it is trained at a time,
-- over the rules.usual_days to the look. A hit is a day with a direct hard set.
-- grain: client_id, look_on, muscle
-- client_id: the client
-- look_on: the look
-- muscle: the muscle
-- direct_sets_7d: direct hard sets of the last seven days [sets]
-- fractional_sets_7d: fractional hard sets of the last seven days [sets]
-- hits: hits in the span [days]
-- median_gap_days: median difference of the dates of two hits, both in the span [days]
-- median_sets_per_hit: median direct hard sets of a hit [sets]
with muscle_days as (
    select
        looks.client_id,
        looks.look_on,
        muscle_day.muscle,
        muscle_day.day,
        muscle_day.direct_sets,
        muscle_day.fractional_sets,
        looks.look_on - muscle_day.day as days_ago,
    from review.muscle_day as muscle_day
    cross join review.rules as rules
    inner join int_client__looked as looks
        on
            muscle_day.client_id = looks.client_id
            and muscle_day.day > looks.look_on - rules.usual_days
            and muscle_day.day <= looks.look_on
),

hits as (
    select
        *,
        case
            when direct_sets > 0
                then day - lag(day) over (
                    partition by client_id, look_on, muscle, direct_sets > 0
                    order by day
                )
        end as gap_days,
    from muscle_days
)

select
    client_id,
    look_on,
    muscle,
    coalesce(sum(direct_sets) filter (where days_ago < 7), 0) as direct_sets_7d,
    coalesce(sum(fractional_sets) filter (where days_ago < 7), 0) as fractional_sets_7d,
    count(*) filter (where direct_sets > 0) as hits,
    median(gap_days) as median_gap_days,
    median(direct_sets) filter (where direct_sets > 0) as median_sets_per_hit,
from hits
group by all
