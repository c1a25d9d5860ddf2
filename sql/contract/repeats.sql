-- At most two rows: how many sets have an id of their own (1), and how many share theirs (2).
-- grain: times
with ids as (
    select
        set_id,
        count(*) as times,
    from contract_sets
    group by all
)

select
    least(times, 2) as times,
    sum(times)::bigint as sets,
from ids
group by least(times, 2)
