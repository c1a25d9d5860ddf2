-- One row, none where no set counts: the age of the newest set at the as-of day, for whether the
-- data are fresh. Sets beyond that day say nothing about it.
-- grain: one row
select $as_of::date - max(performed_on) as age_days, 1 as sets
from ledger.sets
where replaced_by is null and performed_on <= $as_of::date
having count(*) > 0
