-- One row per client with sets: since when and until when there is something to judge by. All is
-- judged at the last covered day: a day that no export reaches is no day without training.
-- grain: client_id
-- client_id: the client
-- first_on: first logged day
-- last_on: last logged day up to the as-of day
-- covered_on: last covered day: the last day of any export that holds sets of the client, at most
-- the as-of day; nothing is judged later
-- unread_share: share of those exports' lines that could not be read [share]
with spans as (
    select
        client_id,
        min(performed_on) as first_on,
        max(performed_on) as last_on,
    from stg_sets
    group by all
),

-- a later version of a file says until when the client is logged though none of its rows is new
client_loads as (
    select distinct
        client_id,
        load_id,
    from stg_sets
),

exports as (
    select distinct
        client_loads.client_id,
        loads.source,
        loads.path,
    from client_loads
    inner join stg_loads as loads on client_loads.load_id = loads.load_id
),

reaches as (
    select
        exports.client_id,
        max(loads.last_on) as last_on,
        sum(loads.unread_lines) / nullif(sum(loads.lines_read), 0) as unread_share,
    from exports
    inner join stg_loads as loads
        on exports.source = loads.source and exports.path = loads.path
    group by all
)

select
    spans.client_id,
    spans.first_on,
    spans.last_on,
    least(run.as_of, greatest(spans.last_on, reaches.last_on)) as covered_on,
    coalesce(reaches.unread_share, 0) as unread_share,
from spans
cross join review.run as run
left join reaches on spans.client_id = reaches.client_id
