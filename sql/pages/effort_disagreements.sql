-- One row per set of the client $client_id whose entries of effort contradict each other, with the
-- file and line to look at; the latest first.
select
    listed.performed_on,
    listed.exercise,
    listed.rir,
    listed.rpe,
    listed.has_failed,
    listed.counted_rir,
    listed.source_line,
    loads.path,
from review.effort_disagreements as listed
left join ledger.loads as loads on listed.load_id = loads.load_id
where listed.client_id = $client_id
order by listed.performed_on desc, listed.set_id
