-- One row per calendar day from $first_on to $last_on of the log of the client $client_id: what
-- review.rhythm says of it, from these days alone, for the view goes through the whole log.
with days as (
    select
        unnest(generate_series(
            greatest($first_on::date - 6, first_on), $last_on::date, interval 1 day
        ))::date as day,
        first_on,
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

parts as (
    select
        day,
        string_agg(body_part, ', ' order by position) as body_parts,
    from (
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
    )
    group by all
)

select
    days.day,
    done.day is not null as trained,
    parts.body_parts,
    case
        when days.day - days.first_on >= 6
            then count(*) filter (where coalesce(done.hard_sets, 0) < rules.rest_day_sets) over (
                order by days.day rows between 6 preceding and current row
            )
    end as rest_days_7d,
    coalesce(done.hard_sets, 0) as hard_sets,
from days
cross join review.rules as rules
left join done on days.day = done.day
left join parts on days.day = parts.day
qualify days.day >= $first_on
order by days.day
