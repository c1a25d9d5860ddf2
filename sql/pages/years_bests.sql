-- One row per lift of $exercises of the client $client_id, calendar year and number of repetitions
-- (1, 3, 5, 8, 10): the heaviest load of the year for at least so many, and its first day. Lifts
-- with bodyweight go by added load; sets with an unlikely load are left out.
with sets as (
    select
        graded.exercise,
        graded.performed_on,
        sets.reps,
        if(sets.load_basis = 'assisted', -abs(sets.load_kg), sets.load_kg) as load_kg,
    from review.graded_sets as graded
    inner join ledger.current_sets as sets on graded.set_id = sets.set_id
    where
        graded.client_id = $client_id
        and sets.client_id = $client_id
        and list_contains($exercises, graded.exercise)
        and graded.effort_basis is not null
        and not graded.is_suspect
        and sets.load_kg is not null
),

asked as (
    select unnest([1, 3, 5, 8, 10]) as reps,
)

select
    sets.exercise,
    year(sets.performed_on) as year,
    asked.reps,
    max(sets.load_kg) as load_kg,
    arg_max(sets.performed_on, { 'load': sets.load_kg, 'early': -epoch(sets.performed_on) }) as day,
from sets
inner join asked on sets.reps >= asked.reps
group by sets.exercise, year(sets.performed_on), asked.reps
order by list_position($exercises, sets.exercise), asked.reps, year
