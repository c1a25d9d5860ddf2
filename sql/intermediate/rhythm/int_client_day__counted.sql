-- One row per client and day with any logged set: how much was done.
-- grain: client_id, day
-- client_id: the client
-- day: the day
-- previous_day: the client's training day before it; null: the first
-- work_sets: work sets
-- hard_sets: hard sets
-- unknown_sets: work sets on exercises that the catalogue does not know
with trained_days as (
    select distinct
        client_id,
        performed_on as day,
    from stg_sets
),

counts as (
    select
        counted.client_id,
        counted.day,
        sum(counted.work_sets)::bigint as work_sets,
        sum(counted.hard_sets)::bigint as hard_sets,
        coalesce(
            sum(counted.work_sets) filter (where exercises.exercise is null), 0
        )::bigint as unknown_sets,
    from int_lift_session__counted as counted
    left join stg_exercises as exercises on counted.exercise = exercises.exercise
    group by all
)

select
    trained_days.client_id,
    trained_days.day,
    lag(trained_days.day) over (
        partition by trained_days.client_id
        order by trained_days.day
    ) as previous_day,
    coalesce(counts.work_sets, 0) as work_sets,
    coalesce(counts.hard_sets, 0) as hard_sets,
    coalesce(counts.unknown_sets, 0) as unknown_sets,
from trained_days
left join counts
    on trained_days.client_id = counts.client_id and trained_days.day = counts.day
