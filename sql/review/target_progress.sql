-- One row per client and target: how far the lift is from it, and when it may be reached. Loads and
-- repetitions are as logged; both sides are compared as strength index, the lift's own being its
-- reference at the last session. Weeks come from both ends of the trend's interval.
-- grain: client_id, exercise, target_load_kg, target_reps
-- client_id: the client
-- exercise: the exercise
-- target_load_kg: load to reach, as logged [kg]
-- target_reps: repetitions to reach with it [reps]
-- current_index: strength index now; null: none [kg]
-- target_index: strength index of the target; null: bodyweight not known [kg]
-- gap_pct: what is missing; 0 or less: nothing [%]
-- weeks_low: fewest weeks to get there; null: cannot be told [weeks]
-- weeks_high: most weeks to get there; null: cannot be told [weeks]
-- reason: in words
with rules as (
    select *,
    from review.rules
),

targets as (
    select distinct
        targets.client_id,
        targets.exercise,
        targets.target_load_kg,
        targets.target_reps,
    from config_targets as targets
    semi join config_scope on targets.client_id = config_scope.client_id
),

bodyweights as (
    select
        client_id,
        arg_max(bodyweight_kg, performed_on) as bodyweight_kg,
    from int_client_day__weighed
    group by all
),

latest_references as (
    select
        client_id,
        exercise,
        arg_max(reference_index, day) filter (where reference_index is not null) as current_index,
    from int_lift_session__referenced
    group by all
),

-- a target is written as loads are logged: on an assisted lift it is what the machine takes off
signed_targets as (
    select
        targets.*,
        coalesce(exercises.load_basis, 'total') as load_basis,
        coalesce(exercises.bodyweight_share, 0) as bodyweight_share,
        case
            when load_basis = 'assisted' then -abs(targets.target_load_kg)
            else targets.target_load_kg
        end as record_load_kg,
    from targets
    left join review.exercises as exercises on targets.exercise = exercises.exercise
),

present_levels as (
    select
        client_id,
        exercise,
        max(level_from) as level_from,
    from int_lift_session__levelled
    group by all
),

done as (
    select
        targets.client_id,
        targets.exercise,
        targets.target_load_kg,
        targets.target_reps,
        min(sets.performed_on) as done_on,
    from signed_targets as targets
    inner join present_levels
        on
            targets.client_id = present_levels.client_id::varchar
            and targets.exercise = present_levels.exercise::varchar
    inner join int_set__graded as sets
        on
            present_levels.client_id = sets.client_id
            and present_levels.exercise = sets.exercise
            and present_levels.level_from <= sets.performed_on
            and targets.target_reps <= sets.reps
            and targets.record_load_kg <= sets.record_load_kg + 1e-6
    where sets.set_role = 'work' and not sets.is_suspect and not sets.is_slip
    group by all
),

effective_targets as (
    select
        targets.*,
        case
            when targets.load_basis in ('added', 'assisted', 'none')
                then
                    targets.record_load_kg + targets.bodyweight_share * bodyweights.bodyweight_kg
            when targets.load_basis = 'per_hand' and targets.bodyweight_share > 0
                then
                    coalesce(
                        2 * targets.record_load_kg
                        + targets.bodyweight_share * bodyweights.bodyweight_kg,
                        targets.target_load_kg
                    )
            else targets.target_load_kg
        end as effective_kg,
    from signed_targets as targets
    left join bodyweights on targets.client_id = bodyweights.client_id
),

compared as (
    select
        targets.client_id,
        targets.exercise,
        targets.target_load_kg,
        targets.target_reps,
        latest_references.current_index,
        case
            when targets.target_reps > rules.index_reps_max or targets.effective_kg <= 0 then null
            when targets.target_reps <= 2
                then targets.effective_kg * (1 + (targets.target_reps - 1) / 15)
            else targets.effective_kg * (1 + targets.target_reps / 30)
        end as target_index,
        status.status,
        status.cause,
        status.change_low,
        status.change_high,
        done.done_on,
    from effective_targets as targets
    cross join rules
    left join latest_references
        on
            targets.client_id = latest_references.client_id
            and targets.exercise = latest_references.exercise
    left join review.lift_status as status
        on targets.client_id = status.client_id and targets.exercise = status.exercise
    left join done
        on
            targets.client_id = done.client_id
            and targets.exercise = done.exercise
            and targets.target_load_kg = done.target_load_kg
            and targets.target_reps = done.target_reps
),

gaps as (
    select
        *,
        100 * (target_index / current_index - 1) as gap_pct,
        round(100 * ln(target_index / current_index), 9) as gap_log,
        status in ('progressing', 'slowing', 'stalled', 'regressing', 'unclear')
        and coalesce(cause, '') <> 'regaining' as has_rate,
    from compared
),

paced as (
    select
        gaps.*,
        case
            when done_on is not null or gap_log <= 0 then 0
            when has_rate and change_high > 0 then gap_log / change_high
        end as fewest,
        case
            when done_on is not null or gap_log <= 0 then 0
            when has_rate and change_low > 0 then gap_log / change_low
        end as most,
        rules.trend_days_max / 7 as horizon,
    from gaps
    cross join rules
),

bounded as (
    select
        * replace (
            case when fewest <= horizon then ceil(fewest)::integer end as fewest,
            case when fewest <= horizon and most <= horizon then ceil(most)::integer end as most
        ),
    from paced
)

select
    client_id,
    exercise,
    target_load_kg,
    target_reps,
    round(current_index, 9) as current_index,
    round(target_index, 9) as target_index,
    round(gap_pct, 9) as gap_pct,
    fewest as weeks_low,
    most as weeks_high,
    case
        when done_on is not null then format('reached on {}', done_on)
        when current_index is null then 'the lift has no strength index yet'
        when target_index is null then 'the target has no strength index'
        when gap_log <= 0 then 'within reach: the index is there, the set is not yet done'
        when cause = 'regaining' then 'too far to tell: the lift is being regained'
        when not coalesce(has_rate, false) then 'too far to tell: the lift has no trend now'
        when fewest is null then 'too far to tell at the present rate'
        when most is null then format('{} weeks or more at the present rate', fewest)
        else format('{} to {} weeks at the present rate', fewest, most)
    end as reason,
from bounded
