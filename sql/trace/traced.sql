-- One row per set behind a figure: where it stands and what was logged, what it gave and why. The
-- file of the figure's table chooses the sets and says the last two; it is read as `chosen`.
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
    sets.set_id,
    sets.path,
    sets.source_line,
    sets.performed_on,
    sets.exercise,
    sets.load_kg,
    sets.reps,
    chosen.counts,
    chosen.why,
from chosen
inner join traced_sets as sets on chosen.set_id = sets.set_id
order by sets.performed_on, sets.path, sets.source_line, sets.set_id, chosen.counts
