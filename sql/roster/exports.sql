-- One row per client: until when exports reach, whether that is so long before the as-of day that a
-- new one is due, and the share of lines that could not be read.
select
    coverage.client_id,
    coverage.covered_on,
    run.as_of - coverage.covered_on > rules.silent_days as is_late,
    coverage.unread_share,
from review.coverage as coverage
cross join review.run as run
cross join review.rules as rules
