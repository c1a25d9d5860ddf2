-- One row per client, day and kind of movement: how near to failure the work sets with recorded
-- effort ended. Sets under rules.effort_load_share of the day's top load of their exercise are left
-- out, sets without a load are in. RIR = 10 − RPE: Zourdos et al. 2016.
-- grain: client_id, day, movement
-- client_id: the client
-- day: the day
-- movement: compound or isolation; unknown for exercises that the catalogue does not know
-- work_sets: work sets looked at [sets]
-- recorded_sets: those with recorded effort [sets]
-- rir_0: recorded sets with nothing left, half steps counting down [sets]
-- rir_1: with one repetition left [sets]
-- rir_2: with two left [sets]
-- rir_3: with three left [sets]
-- rir_4: with four left [sets]
-- rir_5_up: with five or more left [sets]
-- extended_sets: recorded sets that went on after failure or hold partials [sets]
with work_sets as (
    select
        graded.client_id,
        graded.exercise,
        graded.performed_on as day,
        floor(graded.recorded_rir) as whole_rir,
        graded.is_extended,
    from int_set__graded as graded
    cross join review.rules as rules
    where
        graded.set_role = 'work'
        -- a pound is no round number of kilograms: an even share may miss by a hair
        and coalesce(
            graded.effective_load_kg >= rules.effort_load_share * graded.top_load_kg - 1e-6, true
        )
)

select
    work_sets.client_id,
    work_sets.day,
    coalesce(exercises.movement, 'unknown') as movement,
    count(*) as work_sets,
    count(whole_rir) as recorded_sets,
    count(*) filter (where whole_rir <= 0) as rir_0,
    count(*) filter (where whole_rir = 1) as rir_1,
    count(*) filter (where whole_rir = 2) as rir_2,
    count(*) filter (where whole_rir = 3) as rir_3,
    count(*) filter (where whole_rir = 4) as rir_4,
    count(*) filter (where whole_rir >= 5) as rir_5_up,
    count(*) filter (where is_extended and whole_rir is not null) as extended_sets,
from work_sets
left join stg_exercises as exercises on work_sets.exercise = exercises.exercise
group by all
