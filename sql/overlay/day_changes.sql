-- One row per client and day that an incoming version gives or that its source gave before between
-- the client's first and last day in that version: whether both say the same. Days outside that
-- range are no business of the version, for an export may cover any stretch of a log.
-- grain: client_id, performed_on
-- client_id: the client
-- performed_on: the day
-- standing_rows: rows of the day that count so far
-- incoming_rows: rows of the day in the version
-- is_equal: whether they say the same; else the day is replaced, added or taken away
create or replace temp table day_changes as
with incoming_days as (
    select
        client_id,
        performed_on,
        count(*) as row_count,
        sum(hash(said)::hugeint) as day_digest,
    from compared
    where is_incoming
    group by all
),

ranges as (
    select
        client_id,
        min(performed_on) as first_on,
        max(performed_on) as last_on,
    from incoming_days
    group by all
),

standing_days as (
    select
        standing.client_id,
        standing.performed_on,
        count(*) as row_count,
        sum(hash(standing.said)::hugeint) as day_digest,
    from compared as standing
    inner join ranges
        on
            standing.client_id = ranges.client_id
            and standing.performed_on between ranges.first_on and ranges.last_on
    where not standing.is_incoming and standing.source = $source
    group by all
)

select
    coalesce(standing_days.client_id, incoming_days.client_id) as client_id,
    coalesce(standing_days.performed_on, incoming_days.performed_on) as performed_on,
    coalesce(standing_days.row_count, 0) as standing_rows,
    coalesce(incoming_days.row_count, 0) as incoming_rows,
    coalesce(
        standing_days.row_count = incoming_days.row_count
        and standing_days.day_digest = incoming_days.day_digest,
        false
    ) as is_equal,
from standing_days
full join incoming_days
    on
        standing_days.client_id = incoming_days.client_id
        and standing_days.performed_on = incoming_days.performed_on;
