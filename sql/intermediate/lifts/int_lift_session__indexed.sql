-- One row per client, exercise and day with a work set: what the day says of strength, from loads,
-- repetitions and recorded effort alone. Suspect sets and slips of unit are left out; a day of
-- such sets only keeps its row, without figures.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- session_index: best strength index of the day; null: none [kg]
-- trend_index: mean of the two best, which scatters less than the best alone; of one set its own [kg]
-- index_load_kg: effective load of the set that gave it; at a tie the heavier [kg]
-- followed_reps: best load × repetitions of the day, repetitions alone where there is no load: what
-- is followed on a lift without an index
-- best_reps: most repetitions of a set
-- best_unloaded_reps: most repetitions of a set without any load [reps]
-- top_load_kg: heaviest effective load, as noted where it is a slip of unit [kg]
-- has_recorded_effort: whether the day has a set with recorded effort
-- has_recorded_hard: whether the day has a set recorded within rules.hard_rir of failure
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
        suspects.set_id is null and slips.set_id is null as is_trusted,
        suspects.set_id is null or slips.set_id is not null as is_of_the_day,
    from int_set__loaded as loaded
    left join int_set__suspect as suspects on loaded.set_id = suspects.set_id
    left join int_set__slipped as slips on loaded.set_id = slips.set_id
    where loaded.set_role = 'work'
),

sessions as (
    select
        client_id,
        exercise,
        day,
        max({ 'index': strength_index, 'load': effective_load_kg }) filter (
            where strength_index is not null and is_trusted
        ) as best_set,
        max(strength_index, 2) filter (where is_trusted) as best_two,
        max(coalesce(effective_load_kg, 1) * reps) filter (where is_trusted) as followed_reps,
        max(reps) filter (where is_trusted) as best_reps,
        max(reps) filter (
            where effective_load_kg is null and coalesce(record_load_kg, 0) = 0
        ) as best_unloaded_reps,
        max(effective_load_kg) filter (where is_of_the_day) as top_load_kg,
        bool_or(recorded_rir is not null) as has_recorded_effort,
        coalesce(bool_or(recorded_rir <= rules.hard_rir), false) as has_recorded_hard,
    from work_sets
    cross join (select hard_rir, from review.rules) as rules
    group by all
)

select
    client_id,
    exercise,
    day,
    best_set.index as session_index,
    round(list_avg(best_two), 9) as trend_index,
    best_set.load as index_load_kg,
    followed_reps,
    best_reps,
    best_unloaded_reps,
    top_load_kg,
    has_recorded_effort,
    has_recorded_hard,
from sessions
