-- One row per client: lifts by their status, and how many have one at all, so that none stalled is
-- not read as all progressing.
select
    client_id,
    count(*) filter (status = 'progressing') as progressing,
    count(*) filter (status = 'stalled') as stalled,
    count(*) filter (status = 'regressing') as regressing,
    count(*) filter (status not in ('too_little_data')) as with_status,
from review.lift_status
group by all
