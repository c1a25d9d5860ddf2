-- One row: the set that holds a record.
-- grain: set_id
-- set_id: the set
-- counts: load of the record [kg]
-- why: what it counted and why
select
    traced.set_id,
    records.load_kg as counts,
    concat_ws(', ', traced.judged, 'record for ' || records.reps || ' repetitions') as why,
from review.records as records
inner join traced_sets as traced on records.set_id = traced.set_id
where
    records.client_id = $client_id
    and ($exercise is null or records.exercise = $exercise)
