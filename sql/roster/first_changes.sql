-- One row per client for whom there is one thing to change first: which, on what it rests, and its
-- place among what to change.
select
    client_id,
    code,
    subject,
    evidence,
    lever,
    severity,
from review.findings
where is_first_change
