-- One row per client whose sessions fell by a third, against the span of rules.rate_days before or, where
-- they became fewer little by little, against the median of such spans in half a year: why comes before
-- how. What was before a noted change is not compared so. Who is silent for rules.silent_days is asked for the log instead, after a
-- layoff work is rebuilt, and a pause has its reason.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: empty: the client as a whole
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with spans as (
    select
        looks.client_id,
        looks.look_on,
        unnest(range(0, 1 + rules.change_history_days // rules.rate_days))::integer as spans_ago,
        looks.look_on - rules.rate_days * spans_ago as to_on,
        to_on - rules.rate_days as from_after,
        looks.first_on,
    from int_client__looked as looks
    cross join review.rules as rules
    anti join int_client__returned as returned
        on looks.client_id = returned.client_id and looks.look_on = returned.look_on
    where looks.look_on - looks.last_on < rules.silent_days
),

last_changes as (
    select
        client_id,
        max(changed_on) as changed_on,
    from stg_changes
    group by all
),

counts as (
    select
        spans.client_id,
        spans.look_on,
        spans.spans_ago,
        count(days.day) as sessions,
    from spans
    left join int_client_day__counted as days
        on
            spans.client_id = days.client_id
            and days.day > spans.from_after
            and days.day <= spans.to_on
    left join last_changes on spans.client_id = last_changes.client_id
    anti join stg_phases as phases
        on
            spans.client_id = phases.client_id
            and phases.kind in ('pause', 'care')
            and phases.from_on <= spans.to_on
            and phases.to_on > spans.from_after
    where
        spans.from_after >= spans.first_on - 1
        and (
            spans.spans_ago <= 1
            or coalesce(spans.from_after >= last_changes.changed_on - 1, true)
        )
    group by all
),

sums as (
    select
        client_id,
        look_on,
        max(sessions) filter (where spans_ago = 0) as sessions,
        max(sessions) filter (where spans_ago = 1) as sessions_before,
        median(sessions) filter (where spans_ago > 0) as usual_sessions,
    from counts
    group by all
),

compared as (
    select
        *,
        usual_sessions > coalesce(sessions_before, 0) as is_slow,
        1 - sessions / nullif(greatest(usual_sessions, sessions_before), 0) as fall_share,
    from sums
)

select
    'attendance' as code,
    5 as lever,
    compared.client_id::varchar as client_id,
    compared.look_on,
    '' as subject,
    round(compared.fall_share / rules.attendance_share - 1, 9) as severity,
    case
        when compared.is_slow
            then json_object(
                'sessions', compared.sessions,
                'sessions_usual', compared.usual_sessions,
                'fall_share', round(compared.fall_share, 9)
            )
        else json_object(
            'sessions', compared.sessions,
            'sessions_before', compared.sessions_before,
            'fall_share', round(compared.fall_share, 9)
        )
    end as evidence,
    'Ask why before anything else is changed; if the time is short, plan for the days there are.'
        as suggestion,
    null::varchar[] as muscles,
from compared
cross join review.rules as rules
where compared.fall_share >= rules.attendance_share
