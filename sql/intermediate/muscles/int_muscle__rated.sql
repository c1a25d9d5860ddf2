-- One row per client, look, muscle and span: hard sets a week, deload days left out.
-- grain: client_id, look_on, muscle, span
-- client_id: the client
-- look_on: the look
-- muscle: the muscle
-- span: current, before, month or month_before, see int_client__spanned
-- weekly_rate: fractional hard sets a week; null: nothing but deload days [sets]
-- extended_share: share of those sets that went on after failure; null: no sets [share]
-- group_rate: hard sets a week of the muscle's low_end_group, a set counted once; null: no group
with spans as (
    select *,
    from int_client__spanned
),

trained_days as (
    select
        muscle_day.client_id,
        muscle_day.muscle,
        muscle_day.day,
        muscle_day.fractional_sets,
        muscle_day.extended_sets,
    from review.muscle_day as muscle_day
    semi join int_client__logged as clients on muscle_day.client_id = clients.client_id
    anti join stg_phases as phases
        on
            muscle_day.client_id = phases.client_id
            and phases.kind = 'deload'
            and muscle_day.day between phases.from_on and phases.to_on
),

sums as (
    select
        spans.client_id,
        spans.look_on,
        spans.span,
        trained_days.muscle,
        sum(trained_days.fractional_sets) as fractional_sets,
        sum(trained_days.extended_sets) as extended_sets,
    from trained_days
    inner join spans
        on
            trained_days.client_id = spans.client_id
            and trained_days.day between spans.from_on and spans.to_on
    group by all
),

group_weights as (
    select
        exercise_muscles.exercise,
        muscles.low_end_group,
        max(exercise_muscles.weight) as weight,
    from review.exercise_muscles as exercise_muscles
    inner join stg_muscles as muscles on exercise_muscles.muscle = muscles.muscle
    where muscles.low_end_group is not null
    group by all
),

group_sums as (
    select
        spans.client_id,
        spans.look_on,
        spans.span,
        group_weights.low_end_group,
        sum(counted.hard_sets * group_weights.weight) as fractional_sets,
    from int_lift_session__counted as counted
    inner join spans
        on
            counted.client_id = spans.client_id
            and counted.day between spans.from_on and spans.to_on
    inner join group_weights on counted.exercise = group_weights.exercise
    anti join stg_phases as phases
        on
            counted.client_id = phases.client_id
            and phases.kind = 'deload'
            and counted.day between phases.from_on and phases.to_on
    group by all
)

select
    spans.client_id,
    spans.look_on,
    muscles.muscle,
    spans.span,
    round(coalesce(sums.fractional_sets, 0) / spans.weeks, 9) as weekly_rate,
    round(sums.extended_sets / nullif(sums.fractional_sets, 0), 9) as extended_share,
    case
        when muscles.low_end_group is not null
            then round(coalesce(group_sums.fractional_sets, 0) / spans.weeks, 9)
    end as group_rate,
from spans
cross join stg_muscles as muscles
left join sums
    on
        spans.client_id = sums.client_id
        and spans.look_on = sums.look_on
        and spans.span = sums.span
        and muscles.muscle = sums.muscle
left join group_sums
    on
        spans.client_id = group_sums.client_id
        and spans.look_on = group_sums.look_on
        and spans.span = group_sums.span
        and muscles.low_end_group = group_sums.low_end_group
