-- One row per client with sets that count: how many and of which days, to compare with those whom
-- setledger.toml lists.
-- grain: client_id
select
    client_id,
    count(*) as sets,
    min(performed_on) as first_on,
    max(performed_on) as last_on,
from ledger.sets
where replaced_by is null
group by all
order by client_id
