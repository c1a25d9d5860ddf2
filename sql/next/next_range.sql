-- One row per exercise of the session that comes next: the repetitions between which its log moves,
-- and the step between its loads, over rules.trend_days to the client's last session.
-- grain: exercise
-- exercise: the exercise
-- low_reps: repetitions of the top set that rules.next_reps_share of the days stay under [reps]
-- high_reps: repetitions that as many go over [reps]
-- step_kg: least difference between loads that were used on two days or more; null: one load [kg]
with top_sets as (
    select
        current_sets.exercise,
        current_sets.performed_on,
        max(
            {
                'load_kg': coalesce(
                    case
                        when coalesce(current_sets.load_basis, exercises.load_basis) = 'assisted'
                            then -abs(current_sets.load_kg)
                        else current_sets.load_kg
                    end,
                    0
                ),
                'reps': current_sets.reps
            }
        ) as top_set,
    from ledger.current_sets as current_sets
    cross join review.rules as rules
    inner join review.graded_sets as graded on current_sets.set_id = graded.set_id
    inner join next_session
        on
            current_sets.client_id = next_session.client_id
            and current_sets.performed_on
            between next_session.last_on - rules.trend_days + 1 and next_session.last_on
    left join review.exercises as exercises on current_sets.exercise = exercises.exercise
    semi join next_sets on current_sets.exercise = next_sets.exercise
    where graded.is_hard and not graded.is_suspect
    group by all
),

ordered_reps as (
    select
        exercise,
        list(top_set.reps order by top_set.reps) as reps,
    from top_sets
    group by all
),

ranges as (
    select
        ordered_reps.exercise,
        ceil(rules.next_reps_share * len(ordered_reps.reps) - 1e-9)::bigint as left_out,
        ordered_reps.reps[left_out] as low_reps,
        ordered_reps.reps[len(ordered_reps.reps) + 1 - left_out] as high_reps,
    from ordered_reps
    cross join review.rules as rules
),

used_loads as (
    select
        top_sets.exercise,
        top_sets.top_set.load_kg,
    from top_sets
    group by all
    having count(*) >= 2
),

steps as (
    select
        exercise,
        load_kg - lag(load_kg) over (partition by exercise order by load_kg) as step_kg,
    from used_loads
)

select
    ranges.exercise,
    ranges.low_reps,
    ranges.high_reps,
    round(min(steps.step_kg) filter (where steps.step_kg >= rules.next_step_min_kg), 9) as step_kg,
from ranges
cross join review.rules as rules
left join steps on ranges.exercise = steps.exercise
group by all
