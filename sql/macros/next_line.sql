-- The set after a set, by double progression: one repetition more up to the high end of the
-- repetitions, then the next load with those of the low end. Towards a goal: no heavier than its load,
-- and at its load one repetition more. Where the step is unknown, or more than step_share of the
-- load, one repetition more. Parameters:
--   load: load, added positive, assistance negative; 0: none [kg]
--   reps: repetitions [reps]
--   low: low end of the repetitions [reps]
--   high: high end of them [reps]
--   step: step between loads; null: unknown [kg]
--   step_share: largest step, as a share of the load
--   goal_load: load to reach; null: no goal [kg]
create or replace temporary macro next_line(load, reps, low, high, step, step_share, goal_load) as
case
    when
        reps >= high
        and step > 0
        and (
            load <= 0
            or step <= step_share * load + 1e-6
            or (load + step) * (30 + low) <= load * (30 + reps)
        )
        and load < coalesce(goal_load - 1e-6, load + 1)
        then
            { 'load_kg': round(least(load + step, coalesce(goal_load, load + step)), 9),
            'reps': least(low, reps) }
    else { 'load_kg': round(load, 9), 'reps': reps + 1 }
end
