-- One row per client and lift that stalls or regresses. It may be the first change where so many
-- flags, or as strong ones, are rarer than chance among the client's lifts; fewer are noticed, with
-- how many chance alone would give.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: the lift
-- severity: distance from the expected rate [%/week]
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles that the lift trains directly
-- is_only_noticed: whether it is not rarer than chance among the client's lifts
-- adds_to: muscles that the step pushes; null: it takes load away
with lifts as (
    select
        watched.client_id::varchar as client_id,
        watched.look_on,
        watched.exercise::varchar as exercise,
        watched.muscles,
        watched.is_beyond_chance,
        stood.status,
        stood.change_pct_per_week,
        stood.expected_pct_per_week,
        stood.flat_weeks,
        status.cause,
        status.weeks_since_best,
        flagged.judged_lifts,
        flagged.flagged_lifts,
    from int_lift__watched as watched
    inner join int_lift__stood as stood
        on
            watched.client_id = stood.client_id
            and watched.look_on = stood.look_on
            and watched.exercise = stood.exercise
    inner join review.lift_status as status
        on watched.client_id = status.client_id and watched.exercise = status.exercise
    inner join int_lift__flagged as flagged
        on
            watched.client_id = flagged.client_id
            and watched.look_on = flagged.look_on
            and watched.exercise = flagged.exercise
    where watched.needs_look
),

others as (
    select
        lifts.client_id,
        lifts.look_on,
        lifts.exercise,
        list(companions.exercise order by companions.exercise) as exercises,
    from lifts
    inner join lifts as companions
        on
            lifts.client_id = companions.client_id
            and lifts.look_on = companions.look_on
            and lifts.exercise <> companions.exercise
            and list_has_any(lifts.muscles, companions.muscles)
    group by all
),

repetitions as (
    select
        client_id,
        look_on,
        exercise,
        median(reps) as usual_reps,
    from int_set__recent
    group by all
)

select
    'stall' as code,
    14 as lever,
    lifts.client_id,
    lifts.look_on,
    lifts.exercise as subject,
    round(greatest(lifts.expected_pct_per_week - lifts.change_pct_per_week, 0), 9) as severity,
    json_object(
        'status', lifts.status,
        'change_a_week_pct', lifts.change_pct_per_week,
        'expected_a_week_pct', lifts.expected_pct_per_week,
        'weeks_since_best', lifts.weeks_since_best,
        'weeks_without_progress', lifts.flat_weeks,
        'other_lifts', others.exercises,
        'judged_lifts', lifts.judged_lifts,
        'flagged_lifts', lifts.flagged_lifts,
        'flags_by_chance', round(rules.false_alarm_share * lifts.judged_lifts, 9)
    ) as evidence,
    case
        when lifts.cause = 'not_attempted'
            then 'Try one more repetition with the same load in the next session.'
        when lifts.status = 'regressing'
            then 'Take the loads about 5 % lower for two weeks and build up from there.'
        when repetitions.usual_reps <= rules.heavy_reps_max
            then 'Ask about loads, practice of the lift and recovery before any sets are added.'
        else 'Keep the load and try for one more repetition in the first set of each session.'
    end as suggestion,
    lifts.muscles,
    not lifts.is_beyond_chance as is_only_noticed,
    case when lifts.status <> 'regressing' then lifts.muscles end as adds_to,
from lifts
cross join review.rules as rules
left join repetitions
    on
        lifts.client_id = repetitions.client_id
        and lifts.look_on = repetitions.look_on
        and lifts.exercise = repetitions.exercise
left join others
    on
        lifts.client_id = others.client_id
        and lifts.look_on = others.look_on
        and lifts.exercise = others.exercise
