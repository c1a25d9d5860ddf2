-- One row per client with a change that is followed: what became of the last one.
select
    client_id,
    changed_on,
    code as last_code,
    is_done,
    verdict,
from review.follow_through
qualify row_number() over (partition by client_id order by changed_on desc, code, subject) = 1
