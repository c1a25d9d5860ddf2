-- One row per client in a phase of care or pause: figures only, nothing is suggested.
-- grain: client_id, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- subject: empty: the client as a whole
-- severity: 0: there is no degree of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with phases as (
    select
        clients.client_id,
        arg_max(phases.kind, phases.from_on) as kind,
        max(phases.from_on) as from_on,
    from int_client__logged as clients
    cross join review.run as run
    inner join stg_phases as phases
        on
            clients.client_id = phases.client_id
            and phases.kind in ('pause', 'care')
            and phases.from_on <= run.as_of
            and phases.to_on >= clients.covered_on
    where clients.is_led
    group by all
)

select
    'care' as code,
    1 as lever,
    client_id::varchar as client_id,
    '' as subject,
    0.0::double as severity,
    json_object('phase', kind, 'since_on', from_on) as evidence,
    null::varchar as suggestion,
    null::varchar[] as muscles,
from phases
