-- One row per muscle of the client $client_id and calendar quarter of the log: hard sets a week,
-- indirect ones as half; 0 where there were none.
with coverage as (
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

muscles as (
    select
        muscle_day.muscle,
        any_value(muscles.position) as position,
    from review.muscle_day as muscle_day
    inner join review.muscles as muscles on muscle_day.muscle = muscles.muscle
    where muscle_day.client_id = $client_id and muscle_day.fractional_sets > 0
    group by all
)

select
    muscles.muscle,
    quarters.quarter,
    coalesce(sum(days.fractional_sets), 0) * 7 / any_value(
        least(quarters.quarter + interval 3 months - interval 1 day, quarters.covered_on)::date
        - greatest(quarters.quarter, quarters.first_on) + 1
    ) as weekly_sets,
from muscles
cross join quarters
left join review.muscle_day as days
    on
        days.client_id = $client_id
        and muscles.muscle = days.muscle
        and days.day >= quarters.quarter
        and days.day < quarters.quarter + interval 3 months
        and days.day <= quarters.covered_on
group by muscles.muscle, muscles.position, quarters.quarter
order by muscles.position, quarters.quarter
