-- One row per main lift of the client $client_id and month ($bucket: or week) with a session: its
-- best figures of that time, so that ten years draw like one. Main: compound lifts before others,
-- those done in most months, at most $most; those without an estimate are left to the end.
with sessions as (
    select
        exercise,
        day,
        e1rm,
        strength_index,
        top_reps,
        date_trunc($bucket, day)::date as bucket,
        date_trunc('month', day) as month,
    from review.lift_session
    where client_id = $client_id
),

main as (
    select
        sessions.exercise,
        row_number() over (
            order by
                count(sessions.e1rm) > 0 desc,
                any_value(exercises.movement) = 'compound' desc,
                count(distinct sessions.month) desc,
                count(*) desc,
                sessions.exercise
        ) as place,
    from sessions
    left join review.exercises as exercises on sessions.exercise = exercises.exercise
    group by sessions.exercise
    qualify place <= $most
)

select
    sessions.exercise,
    main.place,
    coalesce(arg_max(sessions.day, sessions.e1rm), min(sessions.day)) as day,
    max(sessions.e1rm) as e1rm,
    max(sessions.strength_index) as strength_index,
    max(sessions.top_reps) as top_reps,
from sessions
inner join main on sessions.exercise = main.exercise
group by sessions.exercise, main.place, sessions.bucket
order by main.place, sessions.bucket
