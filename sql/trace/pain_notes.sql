-- One row per set whose note speaks of pain, injury or dizziness.
-- grain: set_id
-- set_id: the set
-- counts: 1: such a set
-- why: what it counted and why
select
    traced.set_id,
    1 as counts,
    traced.judged as why,
from traced_sets as traced
semi join review.pain_notes as pain_notes on traced.set_id = pain_notes.set_id
where
    traced.client_id = $client_id
    and ($exercise is null or traced.exercise = $exercise)
    and ($on::date is null or traced.performed_on = $on::date)
