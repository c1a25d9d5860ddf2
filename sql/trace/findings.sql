-- One row per set behind a finding: of its muscle or lift, or of all where it is about the client.
-- Back to the first day that the finding looks at: the weeks that one look at a lift goes back, two
-- months where two are compared, the time before a layoff, else the days of the weekly rate.
-- grain: set_id
-- set_id: the set
-- counts: what it gave to the finding
-- why: what it counted and why
with subject_muscles as (
    select muscle,
    from review.muscles
    where
        muscle = $subject
        or body_part = $subject
        or ($subject = 'hamstrings_glutes' and muscle in ('hamstrings', 'glutes'))
        or ($code = 'overlap' and muscle in ('side_delts', 'rear_delts'))
),

muscle_weights as (
    select
        roles.exercise,
        max(roles.weight) as weight,
        max(roles.role = 'direct') as is_direct,
    from review.exercise_muscles as roles
    semi join subject_muscles on roles.muscle = subject_muscles.muscle
    group by all
),

last_days as (
    select
        covered_on,
        rate_days,
    from review.coverage
    where client_id = $client_id
),

frequent_lifts as (
    select distinct roles.exercise,
    from review.exercise_muscles as roles
    inner join review.muscle_status as status on roles.muscle = status.muscle
    cross join review.rules as rules
    where
        status.client_id = $client_id
        and roles.role = 'direct'
        and status.median_gap_days <= rules.frequent_gap_days
),

sets as (
    select
        traced.*,
        frequent_lifts.exercise is not null as is_frequent,
        muscle_weights.weight,
        coalesce(muscle_weights.is_direct, false) as is_direct,
        coalesce(exercises.movement = 'compound', false) as is_compound,
        traced.exercise = $subject as is_subject_lift,
        traced.set_id in (select set_id from review.pain_notes) as is_hurting,
        (select count(*) from subject_muscles) > 0 as is_about_muscles,
    from traced_sets as traced
    left join muscle_weights on traced.exercise = muscle_weights.exercise
    left join review.exercises as exercises on traced.exercise = exercises.exercise
    left join frequent_lifts on traced.exercise = frequent_lifts.exercise
)

select  -- noqa: LT09
    sets.set_id,
    case
        when $code in ('stall', 'strength_drop', 'take_back') then sets.strength_index
        when $code = 'extension'
            then (sets.is_hard and sets.is_extended and sets.is_frequent)::integer
        when $code = 'failure'
            then (
                sets.is_compound and sets.effort_basis = 'recorded' and sets.rir_used < 1
            )::integer
        when $code = 'pain_note' then sets.is_hurting::integer
        when $code = 'unclear' then (sets.effort_basis = 'recorded')::integer
        when $code = 'effort'
            then (
                sets.effort_basis = 'recorded' and sets.rir_used >= rules.easy_rir
            )::integer
        when $subject = 'assumed_effort' then (sets.effort_basis = 'assumed')::integer
        when $code in ('session_size', 'absent') then (sets.is_hard and sets.is_direct)::integer
        else sets.is_hard::integer * coalesce(sets.weight, 1)
    end as counts,
    sets.judged as why,
from sets
cross join review.rules as rules
cross join last_days
where
    sets.client_id = $client_id
    and (not sets.is_about_muscles or sets.weight is not null)
    and (coalesce($code, '') <> 'stall' or $subject is null or sets.is_subject_lift)
    and sets.performed_on > case
        when $code = 'stall' then last_days.covered_on - 7 * rules.history_weeks
        when $code = 'take_back'
            then last_days.covered_on - rules.follow_days - rules.trend_days
        when $code = 'return'
            then last_days.covered_on - rules.long_return_days - rules.rate_days
        when $code in ('attendance', 'session_size', 'rest')
            then last_days.covered_on - rules.usual_days
        when $code = 'jump' then last_days.covered_on - 2 * last_days.rate_days
        when $code = 'pain_note' then last_days.covered_on - rules.pain_days
        when $code = 'strength_drop' then last_days.covered_on - rules.trend_days
        else last_days.covered_on - last_days.rate_days
    end
