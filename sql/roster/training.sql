-- One row per client with a set: the last session, sessions and hard sets a week over the 28 days to
-- the last covered day and the 28 before, and suspect sets of the last 26 weeks, which a coach should
-- look up.
with days as (
    select
        sets.client_id,
        coverage.covered_on - sets.performed_on as days_ago,
        sets.performed_on,
        sets.is_hard,
        sets.is_suspect,
    from review.graded_sets as sets
    inner join review.coverage as coverage on sets.client_id = coverage.client_id
)

select
    client_id,
    max(performed_on) as last_on,
    count(distinct performed_on) filter (days_ago < 28) as sessions,
    count(distinct performed_on) filter (days_ago between 28 and 55) as sessions_before,
    count(*) filter (is_hard and days_ago < 28) / 4 as weekly_sets,
    count(*) filter (is_hard and days_ago between 28 and 55) / 4 as weekly_sets_before,
    count(*) filter (is_suspect and days_ago < 182) as suspects,
from days
group by all
