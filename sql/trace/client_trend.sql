-- One row per set behind the trend of all lifts together: the work sets of its days, of which each
-- session's two best indices count.
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
cross join review.rules as rules
where
    traced.client_id = $client_id
    and traced.set_kind = 'work'
    and ($exercise is null or traced.exercise = $exercise)
    and coalesce($on::date, run.as_of) - traced.performed_on
    between 0 and rules.trend_days - 1
