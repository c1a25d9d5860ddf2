-- One row per client and calendar day from the client's first logged day to the as-of day: whether
-- there was training, of what, and how rest lies between. A rest day is a calendar day with fewer
-- than rules.rest_day_sets hard sets.
-- kind: view
-- grain: client_id, day
-- client_id: the client
-- day: the calendar day
-- trained: whether any set was logged
-- body_parts: body parts with a direct hard set, in the order of the muscle table; null: none
-- rest_days_7d: rest days among this day and the six before; null in the first six days [days]
-- run_of_training_days: days in a row to this one without a rest day; 0 on a rest day [days]
-- hard_sets: hard sets of the day [sets]
with logged_days as (
    select
        client_id,
        performed_on as day,
        count(*) filter (where is_hard) as hard_sets,
    from review.graded_sets
    group by all
),

client_spans as (
    select
        client_id,
        min(day) as first_on,
    from logged_days
    group by all
),

calendar as (
    select
        client_spans.client_id,
        client_spans.first_on,
        unnest(generate_series(client_spans.first_on, run.as_of, interval 1 day))::date as day,
    from client_spans
    cross join review.run as run
),

part_days as (
    select
        muscle_day.client_id,
        muscle_day.day,
        muscles.body_part,
        min(muscles.position) as position,
    from review.muscle_day as muscle_day
    inner join review.muscles as muscles on muscle_day.muscle = muscles.muscle
    where muscle_day.direct_sets > 0
    group by all
),

day_parts as (
    select
        client_id,
        day,
        string_agg(body_part, ', ' order by position) as body_parts,
    from part_days
    group by all
),

judged_days as (
    select
        calendar.client_id,
        calendar.day,
        calendar.day - calendar.first_on as days_before,
        logged_days.day is not null as trained,
        day_parts.body_parts,
        coalesce(logged_days.hard_sets, 0) as hard_sets,
        coalesce(logged_days.hard_sets, 0) < rules.rest_day_sets as is_rest_day,
    from calendar
    cross join review.rules as rules
    left join logged_days
        on calendar.client_id = logged_days.client_id and calendar.day = logged_days.day
    left join day_parts
        on calendar.client_id = day_parts.client_id and calendar.day = day_parts.day
)

select
    client_id,
    day,
    trained,
    body_parts,
    case
        when days_before >= 6
            then count(*) filter (where is_rest_day) over (
                partition by client_id
                order by day
                rows between 6 preceding and current row
            )
    end as rest_days_7d,
    day - coalesce(
        max(day) filter (where is_rest_day) over (partition by client_id order by day),
        min(day) over (partition by client_id) - 1
    ) as run_of_training_days,
    hard_sets,
from judged_days
