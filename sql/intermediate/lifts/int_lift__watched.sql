-- One row per client and exercise: what findings ask of a lift. Trackable is judged over the
-- rules.trackable_weeks to the last logged day of the client.
-- grain: client_id, exercise
-- client_id: the client
-- exercise: the exercise
-- status: as in lift_status; null: in pause or care
-- has_status: whether the trend was judged: progressing, slowing, stalled, regressing or unclear
-- needs_look: whether it stalls or regresses
-- is_beyond_chance: whether that is rarer than chance among the client's lifts
-- is_trackable: whether it was trained rules.trackable_sessions times in the span
-- muscles: muscles that it trains directly, in the order of the muscle table
with sessions as (
    select
        counted.client_id,
        counted.exercise,
        count(*) as sessions,
    from int_lift_session__counted as counted
    inner join int_client__logged as clients on counted.client_id = clients.client_id
    cross join review.rules as rules
    where counted.day > clients.last_on - 7 * rules.trackable_weeks
    group by all
),

direct_muscles as (
    select
        exercise_muscles.exercise,
        list(exercise_muscles.muscle order by muscles.position) as muscles,
    from review.exercise_muscles as exercise_muscles
    inner join stg_muscles as muscles on exercise_muscles.muscle = muscles.muscle
    where exercise_muscles.role = 'direct'
    group by all
)

select
    lifts.client_id,
    lifts.exercise,
    lifts.status,
    coalesce(
        lifts.status in ('progressing', 'slowing', 'stalled', 'regressing', 'unclear'), false
    ) as has_status,
    coalesce(lifts.status in ('stalled', 'regressing'), false) as needs_look,
    coalesce(flagged.is_beyond_chance, false) as is_beyond_chance,
    coalesce(sessions.sessions, 0) >= rules.trackable_sessions as is_trackable,
    coalesce(direct_muscles.muscles, []) as muscles,
from review.lift_status as lifts
cross join review.rules as rules
semi join config_scope on lifts.client_id = config_scope.client_id
left join sessions
    on lifts.client_id = sessions.client_id and lifts.exercise = sessions.exercise
left join int_lift__flagged as flagged
    on lifts.client_id = flagged.client_id and lifts.exercise = flagged.exercise
left join direct_muscles on lifts.exercise = direct_muscles.exercise
