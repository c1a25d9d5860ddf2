-- One row per recorded work set of the week behind a share of effort.
-- grain: set_id
-- set_id: the set
-- counts: 1 where it falls under the column [sets]
-- why: what it counted and why
select
    traced.set_id,
    case
        when $column = 'extended_sets' then traced.is_extended::integer
        when $column = 'rir_5_up' then (floor(traced.rir_used) >= 5)::integer
        when $column like 'rir_%' then (floor(traced.rir_used) = right($column, 1)::integer)::integer
        else 1
    end as counts,
    traced.judged as why,
from traced_sets as traced
left join review.exercises as exercises on traced.exercise = exercises.exercise
cross join review.run as run
where
    traced.client_id = $client_id
    and traced.set_kind = 'work'
    and traced.week = date_trunc('week', coalesce($on::date, run.as_of))::date
    and ($movement is null or coalesce(exercises.movement, 'unknown') = $movement)
