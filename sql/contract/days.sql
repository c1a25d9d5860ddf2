-- One row per client, day and source, with its number of sets: whether one version alone gives the
-- day, and its sets are counted 1, 2, 3 … without a gap.
-- grain: client_id, performed_on, source
select
    client_id,
    performed_on,
    source,
    count(distinct load_id) as versions,
    min(day_order) as first_place,
    max(day_order) as last_place,
    count(distinct day_order) as places,
    count(*) as sets,
from contract_sets
group by all
