-- One row per set of $set_ids of the client $client_id, with the file and line where its load can be
-- looked up; the latest first.
select
    sets.performed_on,
    sets.exercise,
    sets.load_kg,
    sets.reps,
    sets.source_line,
    loads.path,
from ledger.current_sets as sets
left join ledger.loads as loads on sets.load_id = loads.load_id
where sets.client_id = $client_id and sets.set_id in (select unnest($set_ids::varchar[]))
order by sets.performed_on desc, sets.set_id
