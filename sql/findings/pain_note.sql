-- One row per client whose notes of late speak of pain, injury or dizziness: a question, and nothing is
-- added for the muscles of the exercises that were noted. How many notes and days is all that is
-- said here; the words stand on the coach's page.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: empty: the client as a whole
-- severity: days with such a note, in weeks of them
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles that the exercises train in any role; null: one of them is unknown
with notes as (
    select
        client_id,
        look_on,
        count(*) as notes,
        count(distinct day) as days,
        max(day) as last_on,
    from int_set__hurting
    group by all
),

exercises as (
    select distinct
        client_id,
        look_on,
        exercise,
    from int_set__hurting
),

concerned as (
    select
        exercises.client_id,
        exercises.look_on,
        case
            when bool_and(roles.muscle is not null)
                then list(distinct roles.muscle order by roles.muscle)
        end as muscles,
    from exercises
    left join review.exercise_muscles as roles on exercises.exercise = roles.exercise
    group by all
)

select
    'pain_note' as code,
    2 as lever,
    notes.client_id::varchar as client_id,
    notes.look_on,
    '' as subject,
    round(notes.days / 7, 9) as severity,
    json_object('notes', notes.notes, 'days', notes.days, 'last_on', notes.last_on) as evidence,
    'Tell me about what you noted: where, since when, in what. Leave out or lighten what hurts, '
    || 'and see a licensed professional if it is new, sharp or does not go away.' as suggestion,
    concerned.muscles,
from notes
inner join concerned
    on notes.client_id = concerned.client_id and notes.look_on = concerned.look_on
