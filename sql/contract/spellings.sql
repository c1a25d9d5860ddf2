-- One row per spelling of an exercise, with its number of sets: whether it is one, and stands in
-- ledger.exercise_names.
-- grain: spelling
select
    coalesce(batch.exercise_raw, '') as spelling,
    names.exercise,
    count(*) as sets,
from contract_sets as batch
left join ledger.exercise_names as names on batch.exercise_raw = names.exercise_raw
group by all
