-- At most two rows: how many extensions have a work set of their exercise before them on the day
-- (1), and how many have none (0).
-- grain: work_sets_before
with extended_days as (
    select distinct
        client_id,
        performed_on,
        source,
    from contract_sets
    where set_kind = 'extension'
),

in_order as (
    select
        batch.set_kind,
        count(*) filter (where batch.set_kind = 'work') over (
            partition by
                batch.client_id, batch.performed_on, batch.source, lower(batch.exercise_raw)
            order by batch.day_order
            rows between unbounded preceding and 1 preceding
        ) as work_sets_before,
    from contract_sets as batch
    semi join extended_days
        on
            batch.client_id is not distinct from extended_days.client_id
            and batch.performed_on is not distinct from extended_days.performed_on
            and batch.source is not distinct from extended_days.source
)

select
    least(work_sets_before, 1) as work_sets_before,
    count(*) as sets,
from in_order
where set_kind = 'extension'
group by all
