-- One row per client, exercise and day with a work set: what the day says of strength, from loads,
-- repetitions and recorded effort alone. Suspect sets are left out; a day of suspect sets only
-- keeps its row, without figures.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- session_index: best strength index of the day; null: none [kg]
-- band: repetitions to failure of the set that gave it: 1-3, 4-6, 7-10 or 11-20; at a tie the lower
-- followed_reps: best load × repetitions of the day, repetitions alone where there is no load: what
-- is followed on a lift without an index
-- best_reps: most repetitions of a set
-- best_unloaded_reps: most repetitions of a set without any load [reps]
-- top_load_kg: heaviest effective load [kg]
-- has_recorded_effort: whether the day has a set with recorded effort
with work_sets as (
    select
        loaded.client_id,
        loaded.exercise,
        loaded.performed_on as day,
        loaded.effective_load_kg,
        loaded.record_load_kg,
        loaded.reps,
        loaded.recorded_rir,
        loaded.reps_to_failure,
        loaded.strength_index,
        suspects.set_id is null as is_trusted,
    from int_set__loaded as loaded
    left join int_set__suspect as suspects on loaded.set_id = suspects.set_id
    where loaded.set_role = 'work'
),

sessions as (
    select
        client_id,
        exercise,
        day,
        max(strength_index) filter (where reps_to_failure <= 3 and is_trusted) as index_1_3,
        max(strength_index) filter (
            where reps_to_failure > 3 and reps_to_failure <= 6 and is_trusted
        ) as index_4_6,
        max(strength_index) filter (
            where reps_to_failure > 6 and reps_to_failure <= 10 and is_trusted
        ) as index_7_10,
        max(strength_index) filter (where reps_to_failure > 10 and is_trusted) as index_11_20,
        max(coalesce(effective_load_kg, 1) * reps) filter (where is_trusted) as followed_reps,
        max(reps) filter (where is_trusted) as best_reps,
        max(reps) filter (
            where effective_load_kg is null and coalesce(record_load_kg, 0) = 0
        ) as best_unloaded_reps,
        max(effective_load_kg) filter (where is_trusted) as top_load_kg,
        bool_or(recorded_rir is not null) as has_recorded_effort,
    from work_sets
    group by all
),

best_of_bands as (
    select
        *,
        greatest(index_1_3, index_4_6, index_7_10, index_11_20) as session_index,
    from sessions
)

select
    client_id,
    exercise,
    day,
    session_index,
    case session_index
        when index_1_3 then '1-3'
        when index_4_6 then '4-6'
        when index_7_10 then '7-10'
        when index_11_20 then '11-20'
    end as band,
    followed_reps,
    best_reps,
    best_unloaded_reps,
    top_load_kg,
    has_recorded_effort,
from best_of_bands
