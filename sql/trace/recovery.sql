-- One row per set behind the comparison of days in a row: the work sets of the half year to the
-- client's last logged day on days that are known to stand in a run, of which each lift's two best
-- indices of a day count.
-- grain: set_id
-- set_id: the set
-- counts: what it gave to the figure
-- why: what it counted and why
select
    traced.set_id,
    traced.strength_index as counts,
    concat_ws(
        ', ',
        format('day {:d} of a run', rhythm.run_of_training_days),
        traced.judged,
        traced.estimates
    ) as why,
from traced_sets as traced
cross join review.rules as rules
inner join review.coverage as coverage on traced.client_id = coverage.client_id
inner join review.rhythm as rhythm
    on traced.client_id = rhythm.client_id and traced.performed_on = rhythm.day
where
    traced.client_id = $client_id
    and traced.set_kind = 'work'
    and not traced.is_suspect
    and not traced.is_slip
    and traced.performed_on > coverage.last_on - rules.trend_days_max
    and rhythm.run_of_training_days > 0
    and rhythm.run_of_training_days <= rhythm.day - coverage.first_on
