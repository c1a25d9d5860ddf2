-- One row per exercise of the session that comes next: what was done, what is best, what to beat. One
-- line at most, by double progression inside the log's own repetitions; towards a target the line
-- after it too. None where work is not to be pushed: the reason says why.
-- grain: exercise
-- exercise: the exercise
-- place: place in the session, from 1
-- sets: sets to do: those of the last time, and one more or fewer by the change in force [sets]
-- last_on: the day of the last sets
-- load_basis: total, per_hand, added, assisted or none
-- loads_kg: loads of the last sets as logged, added positive, assistance negative [kg]
-- reps: their repetitions [reps]
-- best_reps: repetitions of the last time's top set [reps]
-- best_load_kg: heaviest load for as many; null: none on record [kg]
-- best_on: the day of it
-- line: load_kg and reps to beat; null: none
-- line_after: the line after it, on the way to a target; null: no target, or the line reaches it
-- goal_load_kg: load of the target; null: none open [kg]
-- goal_reps: its repetitions [reps]
-- reason: why there is no line: pause, care, cut, deload, strength_drop, return, away, pain_note,
-- failure, regressing or rusty; null: there is one
with phases as (
    select arg_min(
        phases.kind, list_position(['care', 'pause', 'cut', 'deload'], phases.kind)
    ) as reason,
    from review.phases as phases
    cross join review.run as run
    inner join next_session on phases.client_id = next_session.client_id
    inner join review.coverage as coverage on phases.client_id = coverage.client_id
    where
        phases.kind <> 'gain'
        and phases.from_on <= run.as_of
        and phases.to_on >= coverage.covered_on
),

-- also what the coach put aside: it bars what it bars
barring_findings as (
    select
        max(findings.code) filter (where findings.code in ('strength_drop', 'return'))
            as reason,
        coalesce(bool_or(findings.code = 'pain_note'), false) as has_pain,
        coalesce(bool_or(findings.code = 'failure' and findings.is_first_change), false)
            as is_held_back,
    from review.findings as findings
    inner join next_session on findings.client_id = next_session.client_id
),

hurting_muscles as (
    select
        list(distinct roles.muscle) as muscles,
        coalesce(bool_or(roles.muscle is null), true) as is_unknown,
    from review.pain_notes as notes
    inner join next_session on notes.client_id = next_session.client_id
    left join review.exercise_muscles as roles on notes.exercise = roles.exercise
),

exercise_roles as (
    select
        exercise,
        list(muscle) as muscles,
        list(muscle) filter (where role = 'direct') as direct_muscles,
    from review.exercise_muscles
    group by all
),

-- the nearest target that is not reached yet
goals as (
    select
        progress.exercise,
        case
            when next_sets.load_basis = 'assisted' then -abs(progress.target_load_kg)
            else progress.target_load_kg
        end as load_kg,
        progress.target_reps as reps,
        coalesce(progress.gap_pct <= 0, false) as is_within_reach,
    from review.target_progress as progress
    inner join next_session on progress.client_id = next_session.client_id
    inner join next_sets on progress.exercise = next_sets.exercise
    where progress.reason not like 'reached on%'
    qualify row_number() over (
        partition by progress.exercise
        order by load_kg, reps
    ) = 1
),

-- a change of sets that was adopted after the last time: one set a session, at the muscle's first
-- exercise more, or at its last one fewer
changed_sets as (
    select
        next_sets.exercise,
        case status.standing when 'below' then 1 else -1 end as sets,
    from asked_changes
    inner join next_session on asked_changes.changed_on > next_session.session_on
    inner join review.muscle_status as status
        on
            next_session.client_id = status.client_id
            and asked_changes.subject = status.muscle
            and status.standing in ('below', 'above')
    cross join next_sets
    inner join exercise_roles
        on
            next_sets.exercise = exercise_roles.exercise
            and list_contains(exercise_roles.direct_muscles, asked_changes.subject)
    where asked_changes.code = 'volume'
    qualify row_number() over (
        partition by asked_changes.subject
        order by case status.standing when 'below' then next_sets.place else -next_sets.place end
    ) = 1
),

judged as (
    select
        next_sets.*,
        next_range.low_reps,
        next_range.high_reps,
        next_range.step_kg,
        goals.load_kg as goal_load_kg,
        goals.reps as goal_reps,
        goals.is_within_reach,
        case
            when phases.reason is not null then phases.reason
            when barring_findings.reason is not null then barring_findings.reason
            when run.as_of - next_session.last_on >= rules.not_trained_days then 'away'
            when
                barring_findings.has_pain
                and (
                    hurting_muscles.is_unknown
                    or exercise_roles.muscles is null
                    or list_has_any(exercise_roles.muscles, hurting_muscles.muscles)
                ) then 'pain_note'
            when barring_findings.is_held_back then 'failure'
            when status.status = 'regressing' then 'regressing'
            when next_session.last_on - next_sets.last_on >= rules.not_trained_days then 'rusty'
        end as reason,
    from next_sets
    cross join next_session
    cross join review.rules as rules
    cross join review.run as run
    cross join phases
    cross join barring_findings
    cross join hurting_muscles
    left join next_range on next_sets.exercise = next_range.exercise
    left join goals on next_sets.exercise = goals.exercise
    left join exercise_roles on next_sets.exercise = exercise_roles.exercise
    left join review.lift_status as status
        on
            next_session.client_id = status.client_id
            and next_sets.exercise = status.exercise
),

lines as (
    select
        judged.*,
        rules.next_step_share,
        case
            when judged.reason is not null then null
            when judged.is_within_reach
                then { 'load_kg': round(judged.goal_load_kg, 9), 'reps': judged.goal_reps }
            else next_line(
                judged.top_load_kg,
                judged.top_reps,
                coalesce(judged.low_reps, judged.top_reps),
                coalesce(judged.high_reps, judged.top_reps),
                judged.step_kg,
                rules.next_step_share,
                judged.goal_load_kg
            )
        end as line,
    from judged
    cross join review.rules as rules
)

select
    lines.exercise,
    lines.place,
    greatest(lines.sets + coalesce(changed_sets.sets, 0), 1) as sets,
    lines.last_on,
    lines.load_basis,
    lines.loads_kg,
    lines.reps,
    lines.top_reps as best_reps,
    records.load_kg as best_load_kg,
    records.performed_on as best_on,
    lines.line,
    case
        when
            lines.goal_load_kg is not null
            and not (
                lines.line.load_kg >= lines.goal_load_kg - 1e-6
                and lines.line.reps >= lines.goal_reps
            )
            then next_line(
                lines.line.load_kg,
                lines.line.reps,
                coalesce(lines.low_reps, lines.top_reps),
                coalesce(lines.high_reps, lines.top_reps),
                lines.step_kg,
                lines.next_step_share,
                lines.goal_load_kg
            )
    end as line_after,
    lines.goal_load_kg,
    lines.goal_reps,
    lines.reason,
from lines
cross join next_session
left join changed_sets on lines.exercise = changed_sets.exercise
left join review.records as records
    on
        next_session.client_id = records.client_id
        and lines.exercise = records.exercise
        and lines.top_reps = records.reps
