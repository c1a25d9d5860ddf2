-- One row per set of one calendar month, the month of the day that is named.
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
    traced.is_hard::integer as counts,
    traced.judged as why,
from traced_sets as traced
cross join review.run as run
where
    traced.client_id = $client_id
    and date_trunc('month', traced.performed_on)
    = date_trunc('month', coalesce($on::date, run.as_of))
order by traced.performed_on, traced.path, traced.source_line, traced.set_id
