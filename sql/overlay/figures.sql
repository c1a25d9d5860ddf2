-- One row: what laying a version's sets over their source would do. A version that takes much away
-- of one client is held for a person, and the load step says how many days came or changed.
-- grain: one row
-- days_standing: days of the version's range that its source gave before
-- days_added: days that it gives for the first time
-- days_replaced: standing days that it says otherwise or no more
-- sets_taken_away: sets of the replaced days
-- worst_client: the client that loses the largest share of its standing sets; null if none stand
-- worst_share: that share; below 0 if each client's sets become more
with client_shares as (
    select
        client_id,
        (sum(standing_rows) - sum(incoming_rows)) / sum(standing_rows) as taken_share,
    from day_changes
    group by all
    having sum(standing_rows) > 0
),

worst as (
    select
        client_id,
        taken_share,
    from client_shares
    order by taken_share desc, client_id
    limit 1
),

days as (
    select
        count(*) filter (where standing_rows > 0) as days_standing,
        count(*) filter (where standing_rows = 0) as days_added,
        count(*) filter (where standing_rows > 0 and not is_equal) as days_replaced,
        coalesce(sum(standing_rows) filter (where not is_equal), 0)::bigint as sets_taken_away,
    from day_changes
)

select
    days.days_standing,
    days.days_added,
    days.days_replaced,
    days.sets_taken_away,
    worst.client_id as worst_client,
    coalesce(worst.taken_share, 0.0) as worst_share,
from days
left join worst on true;
