-- One row per client in a phase of care or pause: figures only, nothing is suggested.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: empty: the client as a whole
-- severity: 0: there is no degree of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with phases as (
    select
        looks.client_id,
        looks.look_on,
        arg_max(phases.kind, phases.from_on) as kind,
        max(phases.from_on) as from_on,
    from int_client__looked as looks
    cross join review.run as run
    inner join stg_phases as phases
        on
            looks.client_id = phases.client_id
            and phases.kind in ('pause', 'care')
            and phases.from_on <= case when looks.is_last then run.as_of else looks.look_on end
            and phases.to_on >= looks.look_on
    where looks.is_led
    group by all
)

select
    'care' as code,
    1 as lever,
    client_id::varchar as client_id,
    look_on,
    '' as subject,
    0.0::double as severity,
    json_object('phase', kind, 'since_on', from_on) as evidence,
    null::varchar as suggestion,
    null::varchar[] as muscles,
from phases
