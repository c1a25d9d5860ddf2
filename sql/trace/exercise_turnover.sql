-- One row per set behind a week's turnover: the sets of the eight weeks to its end.
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
    and traced.performed_on
    between coalesce($on::date, run.as_of) - 55 and coalesce($on::date, run.as_of) + 6
