-- One row per spelling of the client $client_id that no exercise of the catalogue has: taken for a
-- near name, or unknown. The commonest first: naming that one mends most.
select
    sets.exercise_raw,
    names.exercise,
    names.how,
    count(*) as sets,
    max(sets.performed_on) as last_on,
from ledger.sets as sets
inner join ledger.exercise_names as names on sets.exercise_raw = names.exercise_raw
where
    sets.client_id = $client_id
    and sets.replaced_by is null
    and names.how in ('near', 'unknown')
group by all
order by sets desc, sets.exercise_raw
