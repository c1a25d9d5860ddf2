-- One row per client: muscles below and above their guide, and how many are judged at all, so that
-- none outside is not read as all within.
select
    client_id,
    count(*) filter (standing = 'below') as below,
    count(*) filter (standing = 'above') as above,
    count(standing) as judged,
from review.muscle_status
group by all
