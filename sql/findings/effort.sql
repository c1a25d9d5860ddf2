-- One row per client and muscle most of whose recorded work sets end far from failure, in sessions
-- that are not too big for more effort. Heavy work of few repetitions is left out, and a muscle of
-- which a lift regresses is not pushed.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: the muscle
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: the muscle alone
-- adds_to: muscles that the step adds work to
-- distance: distance of the share from the threshold [standard errors]
-- sets_concerned: recorded work sets [sets]
with measured as (
    select
        worked.*,
        lower(muscles.label) as label,
        worked.easy_sets / nullif(worked.recorded_sets, 0) as easy_share,
        worked.recorded_sets / nullif(worked.work_sets, 0) as recorded_share,
        status.session_high,
        status.low_end_rate,
    from int_muscle__worked as worked
    inner join int_muscle__stood as status
        on
            worked.client_id = status.client_id
            and worked.look_on = status.look_on
            and worked.muscle = status.muscle
    inner join stg_muscles as muscles on worked.muscle = muscles.muscle
    anti join int_muscle__moving as moving
        on
            worked.client_id = moving.client_id
            and worked.look_on = moving.look_on
            and worked.muscle = moving.muscle
            and moving.is_regressing
)

select
    'effort' as code,
    9 as lever,
    measured.client_id::varchar as client_id,
    measured.look_on,
    measured.muscle as subject,
    round(measured.easy_share / rules.easy_share - 1, 9) as severity,
    json_object(
        'easy_share', round(measured.easy_share, 9),
        'easy_sets', measured.easy_sets,
        'recorded_sets', measured.recorded_sets,
        'recorded_share', round(measured.recorded_share, 9),
        'work_sets_per_session', round(measured.sets_per_session, 9),
        'arithmetic', format(
            '{:g} hard sets a week now; {:g} if every work set came within {:g} of failure',
            round(measured.low_end_rate, 1),
            round(measured.work_rate, 1),
            rules.hard_rir
        )
    ) as evidence,
    format(
        'Take the last set of each exercise for {} to about two repetitions in reserve.',
        measured.label
    ) as suggestion,
    [measured.muscle] as muscles,
    [measured.muscle] as adds_to,
    round(
        (measured.easy_share - rules.easy_share)
        / sqrt(rules.easy_share * (1 - rules.easy_share) / measured.recorded_sets),
        6
    ) as distance,
    measured.recorded_sets as sets_concerned,
from measured
cross join review.rules as rules
where
    measured.recorded_sets >= rules.easy_min_sets
    and measured.recorded_share >= rules.effort_recorded_share
    and measured.easy_share > rules.easy_share
    and measured.sets_per_session <= measured.session_high
