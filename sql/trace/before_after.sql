-- One row per set behind a measure before and after a change: of the four weeks that the column is
-- about, of both for a difference. Deload days are left out.
-- grain: set_id
-- set_id: the set
-- counts: what it gave to the measure: 1 for a session's first set, a hard set, a share's set; the
-- strength index for the level of the lifts
-- why: before or after, and what it counted
with changes as (
    select distinct
        changes.client_id,
        changes.changed_on,
        changes.measure,
        rules.change_days,
        rules.effort_load_share,
    from review.before_after as changes
    cross join review.rules as rules
    where
        changes.client_id = $client_id
        and changes.changed_on = $on::date
        and changes.measure = $measure
),

changed_sets as (
    select
        traced.*,
        changes.measure,
        case when traced.performed_on < changes.changed_on then 'before' else 'after' end as side,
        row_number() over (
            partition by traced.performed_on
            order by traced.path, traced.source_line, traced.set_id
        ) as nth_of_day,
        graded.effort_basis is not null
        and coalesce(
            graded.effective_load_kg >= changes.effort_load_share * sessions.top_load_kg - 1e-6,
            true
        ) as is_effort_looked_at,
    from traced_sets as traced
    inner join changes
        on
            traced.client_id = changes.client_id
            and traced.performed_on between changes.changed_on - changes.change_days
            and changes.changed_on + changes.change_days - 1
    inner join review.graded_sets as graded on traced.set_id = graded.set_id
    left join review.lift_session as sessions
        on
            traced.client_id = sessions.client_id
            and traced.exercise = sessions.exercise
            and traced.performed_on = sessions.day
    anti join review.phases as phases
        on
            traced.client_id = phases.client_id
            and phases.kind = 'deload'
            and traced.performed_on between phases.from_on and phases.to_on
),

judged_sets as (
    select
        changed_sets.*,
        case
            when measure in ('weekly_sessions', 'hard_sets_per_session') then true
            when measure like 'weekly_sets_%'
                then
                    is_hard and exercise in (
                        select roles.exercise,
                        from review.exercise_muscles as roles
                        inner join review.muscles as muscles on roles.muscle = muscles.muscle
                        where
                            roles.role = 'direct'
                            and 'weekly_sets_' || muscles.body_part = measure
                    )
            when measure = 'recorded_share' then is_effort_looked_at
            when measure in ('failure_share', 'easy_share')
                then is_effort_looked_at and effort_basis = 'recorded'
            when measure = 'lift_level'
                then
                    strength_index is not null
                    and not is_suspect
                    and not is_slip
                    and set_kind = 'work'
            else is_hard
        end as is_behind,
        case measure
            when 'weekly_sessions' then (nth_of_day = 1)::integer
            when 'hard_sets_per_session' then is_hard::integer
            when 'recorded_share' then (effort_basis = 'recorded')::integer
            when 'failure_share' then (rir_used < 1)::integer
            when 'easy_share' then (rir_used >= 4)::integer
            when 'extended_share' then is_extended::integer
            when 'lift_level' then strength_index
            else 1
        end as counts,
    from changed_sets
)

select
    set_id,
    counts,
    side || ': ' || judged as why,
from judged_sets
where is_behind and ($column not in ('before', 'after') or side = $column)
