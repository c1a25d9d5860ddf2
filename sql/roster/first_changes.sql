-- One row per client for whom there is one thing to change first: which, and on what it rests.
select
    client_id,
    code,
    subject,
    evidence,
from review.findings
where is_first_change
