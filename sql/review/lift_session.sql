-- One row per client, exercise and day with a work set: the best figures and the amount of the day.
-- Suspect sets and slips of unit count as sets and repetitions only. Each estimate is its own maximum.
-- Volume load (tonnage) is sets × repetitions × load.
-- grain: client_id, exercise, day
-- client_id: the client
-- exercise: the exercise
-- day: the day
-- top_load_kg: heaviest load moved, with the share of bodyweight [kg]
-- top_reps: most repetitions at that load [reps]
-- e1rm_epley: highest estimated one-repetition maximum by Epley (1985) [kg]
-- e1rm_brzycki: highest estimated one-repetition maximum by Brzycki (1993) [kg]
-- e1rm: highest mean of the two estimates of a set [kg]
-- strength_index: highest strength index, for trends, never a 1RM [kg]
-- hard_sets: hard sets [sets]
-- reps: repetitions of all work sets [reps]
-- tonnage_kg: load × repetitions of all work sets, both hands and sides [kg]
-- is_light: whether it is taken for a deload and left out of trends
-- light_run_days: length of the run of light sessions it is part of; null: not light [days]
-- work_sets: work sets [sets]
-- extended_sets: hard sets that went on after failure or hold partials [sets]
select
    counted.client_id::varchar as client_id,
    counted.exercise::varchar as exercise,
    counted.day,
    counted.top_load_kg,
    counted.top_reps,
    counted.e1rm_epley,
    counted.e1rm_brzycki,
    counted.e1rm,
    counted.strength_index,
    counted.hard_sets,
    counted.reps,
    counted.tonnage_kg,
    lightened.is_light,
    lightened.light_run_days,
    counted.work_sets,
    counted.extended_sets,
from int_lift_session__counted as counted
inner join int_lift_session__lightened as lightened
    on
        counted.client_id = lightened.client_id
        and counted.exercise = lightened.exercise
        and counted.day = lightened.day
