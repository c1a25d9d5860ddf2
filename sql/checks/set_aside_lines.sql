-- One row per loaded version with lines set aside: how many, and for which reasons in words, the
-- most frequent first.
-- grain: load_id
with reasons as (
    select
        loads.load_id,
        loads.path,
        aside.reason,
        count(*) as lines,
    from ledger.set_aside as aside
    inner join ledger.loads as loads on aside.load_id = loads.load_id
    where loads.state = 'loaded'
    group by all
)

select
    load_id,
    path,
    sum(lines)::bigint as lines,
    string_agg(
        replace(reason, '_', ' ') || ' ' || lines, ', ' order by lines desc, reason
    ) as reasons,
from reasons
group by load_id, path
order by load_id
