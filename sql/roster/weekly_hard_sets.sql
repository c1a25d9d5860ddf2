-- One row per client and week of the last 26 with a hard set, counted back from the last covered day:
-- the points of the line in a row of the roster.
select
    sets.client_id,
    (coverage.covered_on - sets.performed_on) // 7 as weeks_ago,
    count(*) as hard_sets,
from review.graded_sets as sets
inner join review.coverage as coverage on sets.client_id = coverage.client_id
where sets.is_hard and coverage.covered_on - sets.performed_on < 182
group by all
