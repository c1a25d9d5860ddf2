-- One row per set of the client's first or last logged day; for the last covered day, the span of the
-- weekly rate and the share of lines not read, the sets of that span.
-- grain: set_id
-- set_id: the set
-- counts: 1: a set
-- why: what it counted and why
select
    traced.set_id,
    1 as counts,
    traced.judged as why,
from traced_sets as traced
inner join review.coverage as coverage on traced.client_id = coverage.client_id
where
    traced.client_id = $client_id
    and case $column
        when 'first_on' then traced.performed_on = coverage.first_on
        when 'last_on' then traced.performed_on = coverage.last_on
        else
            traced.performed_on between coverage.covered_on - coverage.rate_days + 1
            and coverage.covered_on
    end
