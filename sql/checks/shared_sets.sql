-- One row per pair of clients with days on which all sets of both are equal in exercise, load and
-- repetitions, four or more: probably one person under two names.
-- grain: one_client, other_client
with days as (
    select
        client_id,
        performed_on,
        count(*) as sets,
        list_sort(
            list(hash(lower(exercise), round(coalesce(load_kg, -1), 2), reps))
        ) as signature,
    from ledger.current_sets
    group by all
    having count(*) >= 4
)

select
    one.client_id as one_client,
    other.client_id as other_client,
    count(*) as days,
    sum(one.sets)::bigint as sets,
    min(one.performed_on) as first_on,
    max(one.performed_on) as last_on,
from days as one
inner join days as other
    on
        one.performed_on = other.performed_on
        and one.signature = other.signature
        and one.client_id < other.client_id
group by all
order by days desc, one_client, other_client
