-- One row per set behind a lift's trend: the work sets of 26 weeks, of which each session's best index counts.
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
        when $column = 'e1rm_epley' then traced.e1rm_epley
        when $column = 'e1rm_brzycki' then traced.e1rm_brzycki
        when $column in ('e1rm', 'best_e1rm', 'best_on') then traced.e1rm
        when $column = 'hard_sets' then traced.is_hard::integer
        when $column = 'reps' then traced.reps
        when $column in ('top_load_kg', 'top_reps') then traced.load_kg
        else traced.strength_index
    end as counts,
    concat_ws(
        ', ',
        traced.judged,
        case
            when traced.e1rm is not null
                then format(
                    'Epley {:.1f} kg, Brzycki {:.1f} kg, mean {:.1f} kg',
                    traced.e1rm_epley, traced.e1rm_brzycki, traced.e1rm
                )
        end
    ) as why,
from traced_sets as traced
cross join review.run as run
where
    traced.client_id = $client_id
    and traced.set_kind = 'work'
    and ($exercise is null or traced.exercise = $exercise)
    and coalesce($on::date, run.as_of) - traced.performed_on between 0 and 181
order by traced.performed_on, traced.path, traced.source_line, traced.set_id
