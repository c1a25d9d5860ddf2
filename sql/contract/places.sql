-- One row per combination of whose, when and from where, with its number of sets: whether a set
-- belongs to its client's day and to a version that counts.
-- grain: all columns but sets
select
    batch.client_id,
    batch.performed_on,
    batch.session_id,
    batch.client_id || '/' || batch.performed_on as expected_session_id,
    batch.source,
    loads.source as load_source,
    coalesce(loads.state, 'none') as load_state,
    coalesce(batch.performed_on between loads.first_on and loads.last_on, false)
        as is_spanned,
    batch.started_at::date - batch.performed_on as start_lag,
    count(*) as sets,
from contract_sets as batch
left join ledger.loads as loads on batch.load_id = loads.load_id
group by all
