-- One row per client with a set: the last session, sessions and hard sets a week over the last 28
-- days and the 28 before, and suspect sets of the last 26 weeks, which a coach should look up.
with days as (
    select
        client_id,
        date_diff('day', performed_on, run.as_of) as days_ago,
        performed_on,
        is_hard,
        is_suspect,
    from review.graded_sets
    cross join review.run as run
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
