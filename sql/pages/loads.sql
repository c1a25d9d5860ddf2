-- One row per version of an export that holds, or held, sets of the client $client_id, and whether
-- it holds others' sets, too. Counting is a fifth of the cost of comparing names: with millions of
-- sets it is what a page costs.
with own_loads as (
    select
        load_id,
        count(*) as sets,
    from ledger.sets
    where client_id = $client_id
    group by all
),

whole_loads as (
    select
        load_id,
        count(*) as sets,
    from ledger.sets
    group by all
)

select
    loads.load_id,
    loads.path,
    loads.state,
    loads.first_on,
    loads.last_on,
    loads.lines_read,
    loads.lines_loaded,
    loads.lines_set_aside,
    loads.sets_loaded,
    own_loads.sets < whole_loads.sets as is_shared,
from own_loads
inner join whole_loads on own_loads.load_id = whole_loads.load_id
inner join ledger.loads as loads on own_loads.load_id = loads.load_id
order by loads.load_id
