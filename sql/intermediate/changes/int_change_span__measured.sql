-- One row per noted change, span and measure: what the span was like. Deload days give nothing.
-- grain: client_id, changed_on, nth, measure
-- client_id: the client
-- changed_on: first day of the changed training
-- nth: the span, see int_change__spanned
-- measure: what is measured, see before_after
-- amount: its value; null: nothing to measure, or under rules.change_min_days
with spans as (
    select
        spans.client_id,
        spans.changed_on,
        spans.nth,
        spans.from_on,
        spans.to_on,
        spans.days,
    from int_change__spanned as spans
    cross join review.rules as rules
    where spans.days >= rules.change_min_days
),

days as (
    select
        days.client_id,
        days.day,
        days.hard_sets,
    from int_client_day__counted as days
    anti join stg_phases as phases
        on
            days.client_id = phases.client_id
            and phases.kind = 'deload'
            and days.day between phases.from_on and phases.to_on
),

exercise_parts as (
    select distinct
        roles.exercise,
        muscles.body_part,
    from review.exercise_muscles as roles
    inner join stg_muscles as muscles on roles.muscle = muscles.muscle
    where roles.role = 'direct'
),

part_days as (
    select
        sessions.client_id,
        sessions.day,
        exercise_parts.body_part,
        sum(sessions.hard_sets) as hard_sets,
    from int_lift_session__counted as sessions
    inner join exercise_parts on sessions.exercise = exercise_parts.exercise
    group by all
),

extended_days as (
    select
        client_id,
        day,
        sum(extended_sets) as extended_sets,
    from int_lift_session__counted
    group by all
),

effort_days as (
    select
        client_id,
        day,
        sum(work_sets) as work_sets,
        sum(recorded_sets) as recorded_sets,
        sum(rir_0) as failure_sets,
        sum(rir_4 + rir_5_up) as easy_sets,
    from int_client_day__effort
    group by all
),

span_sums as (
    select
        spans.client_id,
        spans.changed_on,
        spans.nth,
        spans.days,
        count(days.day) as sessions,
        coalesce(sum(days.hard_sets), 0) as hard_sets,
        count(days.day) filter (where days.hard_sets >= rules.rest_day_sets) as training_days,
        sum(extended_days.extended_sets) as extended_sets,
        sum(effort_days.work_sets) as work_sets,
        sum(effort_days.recorded_sets) as recorded_sets,
        sum(effort_days.failure_sets) as failure_sets,
        sum(effort_days.easy_sets) as easy_sets,
        rules.effort_recorded_share,
    from spans
    cross join review.rules as rules
    left join days
        on spans.client_id = days.client_id and days.day between spans.from_on and spans.to_on
    left join extended_days
        on days.client_id = extended_days.client_id and days.day = extended_days.day
    left join effort_days
        on days.client_id = effort_days.client_id and days.day = effort_days.day
    group by
        spans.client_id, spans.changed_on, spans.nth, spans.days, rules.effort_recorded_share
),

judged_sums as (
    select
        *,
        case
            when recorded_sets >= effort_recorded_share * work_sets then recorded_sets
        end as judged_sets,
    from span_sums
),

span_measures as (
    select
        client_id,
        changed_on,
        nth,
        (7 * hard_sets / days)::double as weekly_hard_sets,
        (7 * sessions / days)::double as weekly_sessions,
        (7 * (days - training_days) / days)::double as weekly_rest_days,
        (hard_sets / nullif(sessions, 0))::double as hard_sets_per_session,
        (recorded_sets / nullif(work_sets, 0))::double as recorded_share,
        (failure_sets / nullif(judged_sets, 0))::double as failure_share,
        (easy_sets / nullif(judged_sets, 0))::double as easy_share,
        (extended_sets / nullif(hard_sets, 0))::double as extended_share,
    from judged_sums
),

whole_measures as (
    unpivot span_measures
    on columns(* exclude (client_id, changed_on, nth))
    into name measure value amount
),

part_measures as (
    select
        spans.client_id,
        spans.changed_on,
        spans.nth,
        'weekly_sets_' || parts.body_part as measure,
        7 * coalesce(sum(part_days.hard_sets), 0) / spans.days as amount,
    from spans
    cross join (select distinct body_part, from stg_muscles) as parts
    left join days
        on spans.client_id = days.client_id and days.day between spans.from_on and spans.to_on
    left join part_days
        on
            days.client_id = part_days.client_id
            and days.day = part_days.day
            and parts.body_part = part_days.body_part
    group by spans.client_id, spans.changed_on, spans.nth, spans.days, parts.body_part
)

select
    client_id,
    changed_on,
    nth,
    measure,
    round(amount, 9) as amount,
from whole_measures
union all by name
select
    client_id,
    changed_on,
    nth,
    measure,
    round(amount::double, 9) as amount,
from part_measures
