-- One row per set behind one session of a lift.
-- grain: set_id
-- set_id: the set
-- counts: what it gave to the figure
-- why: what it counted and why
select
    traced.set_id,
    case
        when map_contains(traced.figures, $column) then traced.figures[$column]
        else traced.strength_index
    end as counts,
    concat_ws(', ', traced.judged, traced.estimates) as why,
from traced_sets as traced
cross join review.run as run
where
    traced.client_id = $client_id
    and traced.set_kind = 'work'
    and ($exercise is null or traced.exercise = $exercise)
    and traced.performed_on = coalesce($on::date, run.as_of)
