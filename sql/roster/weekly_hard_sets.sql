-- One row per client and week of the last 26 with a hard set, counted back from the as-of day: the
-- points of the line in a row of the roster.
select
    client_id,
    date_diff('day', performed_on, run.as_of) // 7 as weeks_ago,
    count(*) as hard_sets,
from review.graded_sets
cross join review.run as run
where is_hard and performed_on > run.as_of - 182
group by all
