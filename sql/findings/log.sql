-- One row per client and fault of the log that stands before any judgement: no sets of late though an
-- export covers the days, effort that can only be assumed. Not asked of someone who has left. Unknown
-- names and lines that could not be read are the coach's to mend, never the client's to change.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: the fault: no_sets, unknown_exercises or assumed_effort
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with faults as (
    select
        looks.client_id,
        looks.look_on,
        'no_sets' as subject,
        (looks.look_on - looks.last_on)::double as measured,
        rules.silent_days::double as threshold,
        measured >= threshold as is_met,
        json_object(
            'days_without_sets', looks.look_on - looks.last_on,
            'last_on', looks.last_on
        ) as evidence,
        'Ask whether training goes on unlogged, or why it stopped.' as suggestion,
    from int_client__looked as looks
    cross join review.rules as rules
    union all
    select
        recent.client_id,
        recent.look_on,
        'assumed_effort' as subject,
        count(*) filter (where recent.effort_basis = 'assumed') / count(*) as measured,
        rules.assumed_share_max as threshold,
        measured > threshold as is_met,
        json_object(
            'assumed_share', round(measured, 9),
            'assumed_sets', count(*) filter (where recent.effort_basis = 'assumed'),
            'work_sets', count(*)
        ) as evidence,
        'Note the repetitions left in reserve after each set, or the load where it is missing.'
            as suggestion,
    from int_set__recent as recent
    cross join review.rules as rules
    group by recent.client_id, recent.look_on, rules.assumed_share_max
)

select
    'log' as code,
    4 as lever,
    faults.client_id::varchar as client_id,
    faults.look_on,
    faults.subject,
    round(faults.measured / faults.threshold - 1, 9) as severity,
    faults.evidence,
    faults.suggestion,
    null::varchar[] as muscles,
from faults
cross join review.run as run
inner join stg_clients as clients on faults.client_id = clients.client_id
where faults.is_met and coalesce(clients.until_on >= run.as_of, true)
