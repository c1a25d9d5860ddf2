-- One row per change that is followed, side and measure: four weeks before it, the last four in which
-- it is followed, and the last four of all. Deload days give nothing.
-- grain: client_id, change, side, measure
-- client_id: the client
-- change: see int_change__followed
-- side: before, since or now
-- measure: weekly_hard_sets, weekly_sessions, weekly_rest_days; failure_share (of recorded compound
-- sets), extended_share (of hard sets), recorded_share (of work sets), kept_share (of exercises); of
-- the muscle or group that the change is about: weekly_sets (indirect ones counted as
-- rules.indirect_weight), sets_per_session (direct), easy_share (of recorded sets)
-- amount: its value; null: nothing to measure
-- days: days that it rests on [days]
with rules as (
    select *,
    from review.rules
),

sides as (
    select
        followed.client_id,
        followed.change,
        followed.subject,
        unnest([  -- noqa: AL03
            {
                'side': 'before',
                'from_on': greatest(followed.changed_on - rules.change_days, clients.first_on),
                'to_on': followed.changed_on - 1
            },
            {
                'side': 'since',
                'from_on': greatest(
                    followed.changed_on, followed.followed_until - rules.change_days + 1
                ),
                'to_on': followed.followed_until
            },
            {
                'side': 'now',
                'from_on': greatest(
                    followed.changed_on, clients.covered_on - rules.change_days + 1
                ),
                'to_on': clients.covered_on
            }
        ], recursive := true),
    from int_change__followed as followed
    cross join rules
    inner join int_client__logged as clients on followed.client_id = clients.client_id
),

side_days as (
    select
        sides.client_id,
        sides.change,
        sides.side,
        sides.subject,
        unnest(range(sides.to_on - sides.from_on + 1))::integer + sides.from_on as day,
    from sides
    where sides.from_on <= sides.to_on
),

-- one row a day, trained or not
counted_days as (
    select
        side_days.*,
        counted.day is not null as is_trained,
        coalesce(counted.hard_sets, 0) as hard_sets,
    from side_days
    anti join stg_phases as phases
        on
            side_days.client_id = phases.client_id
            and phases.kind = 'deload'
            and side_days.day between phases.from_on and phases.to_on
    left join int_client_day__counted as counted
        on side_days.client_id = counted.client_id and side_days.day = counted.day
),

-- a finding is about a muscle, a body part, or hamstrings and glutes together
subjects as (
    select
        muscle,
        muscle as subject,
    from stg_muscles
    union
    select
        muscle,
        body_part as subject,
    from stg_muscles
    union
    select
        muscle,
        'hamstrings_glutes' as subject,
    from stg_muscles
    where muscle in ('hamstrings', 'glutes')
),

subject_roles as (
    select
        roles.exercise,
        subjects.subject,
        max(roles.weight) as weight,
        bool_or(roles.role = 'direct') as is_direct,
    from review.exercise_muscles as roles
    inner join subjects on roles.muscle = subjects.muscle
    group by all
),

side_sets as (
    select
        days.client_id,
        days.change,
        days.side,
        days.day,
        graded.is_hard,
        graded.is_extended,
        exercises.movement = 'compound' as is_compound,
        floor(graded.recorded_rir) as whole_rir,
        coalesce(
            graded.effective_load_kg >= rules.effort_load_share * graded.top_load_kg - 1e-6, true
        ) as is_looked_at,
        subject_roles.weight,
        coalesce(subject_roles.is_direct, false) as is_direct,
    from counted_days as days
    cross join rules
    inner join int_set__graded as graded
        on
            days.client_id = graded.client_id
            and days.day = graded.performed_on
            and graded.set_role = 'work'
    left join stg_exercises as exercises on graded.exercise = exercises.exercise
    left join subject_roles
        on graded.exercise = subject_roles.exercise and days.subject = subject_roles.subject
    where days.is_trained
),

set_sums as (
    select
        side_sets.client_id,
        side_sets.change,
        side_sets.side,
        count(*) filter (where is_looked_at) as work_sets,
        count(whole_rir) filter (where is_looked_at) as recorded_sets,
        count(*) filter (where is_looked_at and is_compound) as compound_sets,
        count(whole_rir) filter (where is_looked_at and is_compound) as recorded_compound_sets,
        count(*) filter (where is_looked_at and is_compound and whole_rir <= 0) as failed_sets,
        count(*) filter (where is_hard and is_extended) as extended_sets,
        sum(weight) filter (where is_hard) as subject_sets,
        count(*) filter (where is_hard and is_direct) as direct_sets,
        count(distinct day) filter (where is_hard and is_direct) as hits,
        count(whole_rir) filter (where is_looked_at and is_direct) as recorded_direct_sets,
        count(*) filter (
            where is_looked_at and is_direct and whole_rir >= rules.easy_rir
        ) as easy_sets,
    from side_sets
    cross join rules
    group by all
),

day_sums as (
    select
        days.client_id,
        days.change,
        days.side,
        count(*) as days,
        count(*) filter (where is_trained) as sessions,
        sum(hard_sets) as hard_sets,
        count(*) filter (where days.hard_sets < rules.rest_day_sets) as rest_days,
        bool_or(subjects.subject is not null) as has_muscle,
    from counted_days as days
    cross join rules
    left join (select distinct subject, from subjects) as subjects
        on days.subject = subjects.subject
    group by all
),

turnovers as (
    select
        sides.client_id,
        sides.change,
        sides.side,
        avg(turnover.kept_share) as kept_share,
    from sides
    inner join review.exercise_turnover as turnover
        on
            sides.client_id = turnover.client_id
            and turnover.week between sides.from_on and sides.to_on
    group by all
),

amounts as (
    select
        day_sums.client_id,
        day_sums.change,
        day_sums.side,
        day_sums.days,
        (7 * day_sums.hard_sets / day_sums.days)::double as weekly_hard_sets,
        (7 * day_sums.sessions / day_sums.days)::double as weekly_sessions,
        (7 * day_sums.rest_days / day_sums.days)::double as weekly_rest_days,
        case
            when
                set_sums.recorded_compound_sets
                >= rules.effort_recorded_share * set_sums.compound_sets
                then (
                    set_sums.failed_sets / nullif(set_sums.recorded_compound_sets, 0)
                )::double
        end as failure_share,
        (set_sums.extended_sets / nullif(day_sums.hard_sets, 0))::double as extended_share,
        (set_sums.recorded_sets / nullif(set_sums.work_sets, 0))::double as recorded_share,
        turnovers.kept_share::double as kept_share,
        case
            when day_sums.has_muscle
                then (7 * coalesce(set_sums.subject_sets, 0) / day_sums.days)::double
        end as weekly_sets,
        (set_sums.direct_sets / nullif(set_sums.hits, 0))::double as sets_per_session,
        (set_sums.easy_sets / nullif(set_sums.recorded_direct_sets, 0))::double as easy_share,
    from day_sums
    cross join rules
    left join set_sums
        on
            day_sums.client_id = set_sums.client_id
            and day_sums.change = set_sums.change
            and day_sums.side = set_sums.side
    left join turnovers
        on
            day_sums.client_id = turnovers.client_id
            and day_sums.change = turnovers.change
            and day_sums.side = turnovers.side
),

amounts_long as (
    unpivot amounts
    on columns(* exclude (client_id, change, side, days))
    into name measure value amount
)

select
    client_id,
    change,
    side,
    measure,
    round(amount, 9) as amount,
    days::integer as days,
from amounts_long
