-- One row per client, look and exercise: what findings ask of a lift. Trackable is judged over the
-- rules.trackable_weeks to the client's last logged day before the look.
-- grain: client_id, look_on, exercise
-- client_id: the client
-- look_on: the look
-- exercise: the exercise
-- status: as in lift_status; null: in pause or care
-- has_status: whether the trend was judged: progressing, slowing, stalled, regressing or unclear
-- needs_look: whether it stalls or regresses
-- weeks_until_clear: more weeks until the data would tell; null: they do, or it is not known [weeks]
-- is_beyond_chance: whether that is rarer than chance among the client's lifts
-- is_trackable: whether it was trained rules.trackable_sessions times in the span
-- muscles: muscles that it trains directly, in the order of the muscle table
with sessions as (
    select
        looks.client_id,
        looks.look_on,
        counted.exercise,
        count(*) as sessions,
    from int_lift_session__counted as counted
    cross join review.rules as rules
    inner join int_client__looked as looks
        on
            counted.client_id = looks.client_id
            and counted.day > looks.last_on - 7 * rules.trackable_weeks
            and counted.day <= looks.last_on
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
    lifts.look_on,
    lifts.exercise,
    lifts.status,
    lifts.has_status,
    lifts.needs_look,
    lifts.weeks_until_clear,
    coalesce(flagged.is_beyond_chance, false) as is_beyond_chance,
    coalesce(sessions.sessions, 0) >= rules.trackable_sessions as is_trackable,
    coalesce(direct_muscles.muscles, []) as muscles,
from int_lift__stood as lifts
cross join review.rules as rules
left join sessions
    on
        lifts.client_id = sessions.client_id
        and lifts.look_on = sessions.look_on
        and lifts.exercise = sessions.exercise
left join int_lift__flagged as flagged
    on
        lifts.client_id = flagged.client_id
        and lifts.look_on = flagged.look_on
        and lifts.exercise = flagged.exercise
left join direct_muscles on lifts.exercise = direct_muscles.exercise
