-- One row: the logged days of the client $client_id, and how the effort of the work sets is known,
-- for the line on what a page rests on. Days are null for a client without a set.
select
    min(performed_on) as first_on,
    max(performed_on) as last_on,
    count(distinct performed_on) as sessions,
    count(*) filter (effort_basis is not null) as work_sets,
    count(*) filter (effort_basis = 'recorded') as recorded,
    count(*) filter (effort_basis = 'estimated') as estimated,
    count(*) filter (effort_basis = 'assumed') as assumed,
from review.graded_sets
where client_id = $client_id
