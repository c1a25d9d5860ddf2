-- One row per calendar day from $first_on to $last_on of the log of the client $client_id: what
-- review.rhythm says of it, from these days alone, for the view goes through the whole log.
with days as (
    select
        $last_on::date - unnest(range(0, $last_on::date - $first_on::date + 7))::integer as day,
),

spans as (
    select first_on,
    from review.coverage
    where client_id = $client_id
),

done as (
    select
        performed_on as day,
        (count(*) filter (where is_hard))::integer as hard_sets,
    from review.graded_sets
    where client_id = $client_id and performed_on between $first_on::date - 6 and $last_on
    group by all
),

part_days as (
    select
        muscle_day.day,
        muscles.body_part,
        min(muscles.position) as position,
    from review.muscle_day as muscle_day
    inner join review.muscles as muscles on muscle_day.muscle = muscles.muscle
    where
        muscle_day.client_id = $client_id
        and muscle_day.direct_sets > 0
        and muscle_day.day between $first_on and $last_on
    group by all
),

parts as (
    select
        day,
        string_agg(body_part, ', ' order by position) as body_parts,
    from part_days
    group by all
),

told as (
    select
        days.day,
        done.day is not null as trained,
        parts.body_parts,
        coalesce(done.hard_sets, 0) as hard_sets,
        coalesce(done.hard_sets, 0) < rules.rest_day_sets as is_rest_day,
        days.day - spans.first_on as days_before,
    from days
    cross join review.rules as rules
    cross join spans
    left join done on days.day = done.day
    left join parts on days.day = parts.day
    where days.day >= spans.first_on
),

counted as (
    select
        day,
        trained,
        body_parts,
        case
            when days_before >= 6
                then count(*) filter (where is_rest_day) over (
                    order by day rows between 6 preceding and current row
                )
        end as rest_days_7d,
        hard_sets,
    from told
)

select
    day,
    trained,
    body_parts,
    rest_days_7d,
    hard_sets,
from counted
where day >= $first_on
order by day
