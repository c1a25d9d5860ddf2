-- One row per client and spelling of an exercise among the sets that count.
-- grain: client_id, spelling
select distinct
    client_id,
    exercise_raw as spelling,
from ledger.sets
where replaced_by is null
order by client_id, spelling
