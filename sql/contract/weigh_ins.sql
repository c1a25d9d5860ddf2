-- One row per bodyweight that counts, with its number of weigh-ins: whether a person can weigh that.
-- grain: bodyweight_kg
select
    bodyweight_kg,
    count(*) as sets,
from ledger.bodyweights
where replaced_by is null
group by all
