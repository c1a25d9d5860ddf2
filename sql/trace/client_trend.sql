-- One row per set behind the trend of all lifts together: the work sets of its days, of which each
-- session's two best indices count.
-- grain: set_id
-- set_id: the set
-- path: file
-- source_line: line in the file
-- performed_on: calendar day
-- exercise: the exercise
-- load_kg: load as logged [kg]
-- reps: repetitions
-- counts: what it gave to the figure
-- why: what it counted and why
select
    traced.set_id,
    traced.path,
    traced.source_line,
    traced.performed_on,
    traced.exercise,
    traced.load_kg,
    traced.reps,
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
order by traced.performed_on, traced.path, traced.source_line, traced.set_id
