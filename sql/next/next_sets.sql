-- One row per exercise of the session that comes next: what was done last time, in order. Of an
-- exercise that was light that day, the last time before it that it was not. Hard sets and those of
-- noted effort; all work sets where there is none.
-- grain: exercise
-- exercise: the exercise
-- place: place in the session, from 1
-- last_on: the day of the last sets
-- load_basis: total, per_hand, added, assisted or none
-- loads_kg: loads as logged, added positive, assistance negative; null: none [kg]
-- reps: repetitions of these sets [reps]
-- sets: number of them [sets]
-- top_load_kg: heaviest of these loads; 0: none [kg]
-- top_reps: most repetitions at it [reps]
with work_sets as (
    select
        current_sets.exercise,
        current_sets.performed_on,
        current_sets.day_order,
        coalesce(current_sets.load_basis, exercises.load_basis, 'total') as load_basis,
        case
            when coalesce(current_sets.load_basis, exercises.load_basis) = 'assisted'
                then -abs(current_sets.load_kg)
            else current_sets.load_kg
        end as load_kg,
        -- of left and right the side that did less
        case
            when current_sets.side is not null and current_sets.set_no is not null
                then min(current_sets.reps) over (
                    partition by
                        current_sets.exercise, current_sets.performed_on, current_sets.set_no
                )
            else current_sets.reps
        end as reps,
        graded.effort_basis is not null and not graded.is_suspect as is_work,
        graded.is_hard or graded.effort_basis = 'recorded' as is_counted,
    from ledger.current_sets as current_sets
    inner join review.graded_sets as graded on current_sets.set_id = graded.set_id
    left join review.exercises as exercises on current_sets.exercise = exercises.exercise
    semi join asked_next on current_sets.client_id = asked_next.client_id
    where current_sets.set_kind <> 'warmup' and current_sets.set_kind <> 'extension'
),

chosen_days as (
    select
        today.exercise,
        coalesce(max(earlier.day) filter (where not earlier.is_light), next_session.session_on)
            as last_on,
    from next_session
    inner join review.lift_session as today
        on
            next_session.client_id = today.client_id
            and next_session.session_on = today.day
    inner join review.lift_session as earlier
        on
            today.client_id = earlier.client_id
            and today.exercise = earlier.exercise
            and today.day >= earlier.day
    group by today.exercise, next_session.session_on
),

places as (
    select
        work_sets.exercise,
        row_number() over (order by min(work_sets.day_order), work_sets.exercise) as place,
    from work_sets
    inner join next_session on work_sets.performed_on = next_session.session_on
    where work_sets.is_work
    group by work_sets.exercise
),

last_sets as (
    select
        work_sets.*,
        chosen_days.last_on,
    from work_sets
    inner join chosen_days
        on
            work_sets.exercise = chosen_days.exercise
            and work_sets.performed_on = chosen_days.last_on
    where work_sets.is_work
    qualify work_sets.is_counted or not bool_or(work_sets.is_counted) over (
        partition by work_sets.exercise
    )
)

select
    last_sets.exercise,
    any_value(places.place) as place,
    any_value(last_sets.last_on) as last_on,
    max(last_sets.load_basis) as load_basis,
    list(last_sets.load_kg order by last_sets.day_order) as loads_kg,
    list(last_sets.reps order by last_sets.day_order) as reps,
    count(*) as sets,
    max(coalesce(last_sets.load_kg, 0)) as top_load_kg,
    arg_max(last_sets.reps, [coalesce(last_sets.load_kg, 0), last_sets.reps]) as top_reps,
from last_sets
inner join places on last_sets.exercise = places.exercise
group by last_sets.exercise
