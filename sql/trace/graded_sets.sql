-- One row per set behind figures on the client as a whole: every set up to the as-of day, or of one day or lift.
-- grain: set_id
-- set_id: the set
-- counts: what it gave to the figure
-- why: what it counted and why
select
    traced.set_id,
    traced.is_hard::integer as counts,
    traced.judged as why,
from traced_sets as traced
cross join review.run as run
where
    traced.client_id = $client_id
    and ($exercise is null or traced.exercise = $exercise)
    and ($on is null or traced.performed_on = $on::date)
