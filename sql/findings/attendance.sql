-- One row per client whose sessions fell by a third against the span before, both full of history:
-- why comes before how. Who is silent for rules.silent_days is asked for the log instead, after a
-- layoff work is rebuilt, and a pause has its reason.
-- grain: client_id, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- subject: empty: the client as a whole
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with counts as (
    select
        clients.client_id,
        count(*) filter (where days.day > clients.covered_on - rules.rate_days) as sessions,
        count(*) filter (
            where days.day <= clients.covered_on - rules.rate_days
        ) as sessions_before,
    from int_client__logged as clients
    cross join review.rules as rules
    inner join int_client_day__counted as days
        on
            clients.client_id = days.client_id
            and days.day > clients.covered_on - 2 * rules.rate_days
    anti join int_client__returned as returned on clients.client_id = returned.client_id
    anti join stg_phases as phases
        on
            clients.client_id = phases.client_id
            and phases.kind in ('pause', 'care')
            and phases.from_on <= clients.covered_on
            and phases.to_on > clients.covered_on - rules.rate_days
    where
        clients.covered_on - clients.first_on + 1 >= 2 * rules.rate_days
        and clients.covered_on - clients.last_on < rules.silent_days
    group by all
),

compared as (
    select
        *,
        1 - sessions / nullif(sessions_before, 0) as fall_share,
    from counts
)

select
    'attendance' as code,
    5 as lever,
    compared.client_id::varchar as client_id,
    '' as subject,
    round(compared.fall_share / rules.attendance_share - 1, 9) as severity,
    json_object(
        'sessions', compared.sessions,
        'sessions_before', compared.sessions_before,
        'fall_share', round(compared.fall_share, 9)
    ) as evidence,
    'Ask why before anything else is changed; if the time is short, plan for the days there are.'
        as suggestion,
    null::varchar[] as muscles,
from compared
cross join review.rules as rules
where compared.fall_share >= rules.attendance_share
