-- One row per client whose lifts, of more than one body part, lose strength together: a question of
-- health, not of programming. Either several dropped under their level in their last two sessions; a
-- lift's level is the median of the sessions of rules.reference_days before the two, a session with a
-- heavier load or with more repetitions to failure than usual is other work and no drop, and light
-- sessions without recorded effort may be a deload and are left out. Or all lifts together clearly
-- fall (client_trend), or rules.drop_lifts of them regress while most point down: a slow slide.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: empty: the client as a whole
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with rules as (
    select *,
    from review.rules
),

sessions as (
    select
        looks.client_id,
        looks.look_on,
        indexed.exercise,
        indexed.day,
        looks.last_on,
        indexed.session_index,
        indexed.index_load_kg,
        30 * (indexed.session_index / indexed.index_load_kg - 1) as reps_to_failure,
        coalesce(
            indexed.day - lag(indexed.day) over lift >= rules.restart_days, false
        ) as is_restart,
        row_number() over (
            partition by looks.client_id, looks.look_on, indexed.exercise
            order by indexed.day desc
        ) as nth_last,
    from int_lift_session__indexed as indexed
    cross join rules
    inner join int_client__looked as looks
        on
            indexed.client_id = looks.client_id
            and indexed.day > looks.last_on - rules.reference_days - 2 * rules.restart_days
            and indexed.day <= looks.last_on
    inner join int_lift_session__lightened as lightened
        on
            indexed.client_id = lightened.client_id
            and indexed.exercise = lightened.exercise
            and indexed.day = lightened.day
    anti join stg_phases as phases
        on
            indexed.client_id = phases.client_id
            and phases.kind = 'deload'
            and indexed.day between phases.from_on and phases.to_on
    where
        indexed.session_index is not null
        and (indexed.has_recorded_effort or not lightened.is_light)
    window lift as (
        partition by looks.client_id, looks.look_on, indexed.exercise
        order by indexed.day
    )
),

stretches as (
    select
        *,
        sum(is_restart::integer) over (
            partition by client_id, look_on, exercise
            order by day desc
            rows between unbounded preceding and 1 preceding
        ) as restarts_since,
    from sessions
),

last_two as (
    select
        client_id,
        look_on,
        exercise,
        min(day) as from_on,
        max(day) as to_on,
        any_value(last_on) as last_on,
        max(session_index) as higher_index,
        max(index_load_kg) as heavier_load_kg,
        max(reps_to_failure) as more_reps,
    from stretches
    where nth_last <= 2 and coalesce(restarts_since, 0) = 0
    group by all
    having count(*) = 2
),

levels as (
    select
        stretches.client_id,
        stretches.look_on,
        stretches.exercise,
        median(stretches.session_index) as level_index,
        median(stretches.index_load_kg) as usual_load_kg,
        median(stretches.reps_to_failure) as usual_reps,
    from stretches
    cross join rules
    inner join last_two
        on
            stretches.client_id = last_two.client_id
            and stretches.look_on = last_two.look_on
            and stretches.exercise = last_two.exercise
            and stretches.day between last_two.from_on - rules.reference_days
            and last_two.from_on - 1
    where coalesce(stretches.restarts_since, 0) = 0
    group by
        stretches.client_id,
        stretches.look_on,
        stretches.exercise,
        rules.reference_min_sessions
    having count(*) >= rules.reference_min_sessions
),

dropped_lifts as (
    select
        last_two.client_id,
        last_two.look_on,
        last_two.exercise,
        round(1 - last_two.higher_index / levels.level_index, 9) as fall_share,
    from last_two
    cross join rules
    inner join levels
        on
            last_two.client_id = levels.client_id
            and last_two.look_on = levels.look_on
            and last_two.exercise = levels.exercise
    where
        last_two.to_on > last_two.last_on - rules.restart_days
        and last_two.heavier_load_kg <= levels.usual_load_kg + 1e-9
        and last_two.more_reps <= levels.usual_reps + rules.drop_reps_slack + 1e-9
        and fall_share >= rules.drop_share - 1e-9
),

drops as (
    select
        dropped_lifts.client_id,
        dropped_lifts.look_on,
        count(distinct dropped_lifts.exercise) as lifts,
        count(distinct muscles.body_part) as body_parts,
        list(distinct exercise_muscles.muscle order by exercise_muscles.muscle) as muscles,
    from dropped_lifts
    cross join rules
    inner join review.exercise_muscles as exercise_muscles
        on dropped_lifts.exercise = exercise_muscles.exercise
    inner join stg_muscles as muscles on exercise_muscles.muscle = muscles.muscle
    where exercise_muscles.role = 'direct'
    group by dropped_lifts.client_id, dropped_lifts.look_on, rules.drop_lifts, rules.drop_parts
    having lifts >= rules.drop_lifts and body_parts >= rules.drop_parts
),

fall_shares as (
    select
        client_id,
        look_on,
        list(exercise::varchar order by fall_share desc, exercise) as exercises,
        round(avg(fall_share), 9) as fall_share,
    from dropped_lifts
    group by all
),

regressing as (
    select
        stood.client_id,
        stood.look_on,
        count(distinct stood.exercise) as lifts,
        count(distinct muscles.body_part) as body_parts,
        list(distinct exercise_muscles.muscle order by exercise_muscles.muscle) as muscles,
    from int_lift__stood as stood
    inner join review.exercise_muscles as exercise_muscles
        on stood.exercise = exercise_muscles.exercise and exercise_muscles.role = 'direct'
    inner join stg_muscles as muscles on exercise_muscles.muscle = muscles.muscle
    where stood.status = 'regressing'
    group by all
),

slides as (
    select
        trends.client_id,
        trends.look_on,
        trends.lifts as sliding_lifts,
        trends.change_pct_per_week,
        trends.window_days // 7 as weeks,
        coalesce(regressing.lifts, 0) as regressing_lifts,
        case when not trends.is_falling then regressing.muscles end as muscles,
        trends.change_pct_per_week / nullif(rules.useful_rate_pct, 0) as steepness,
    from int_client__joined as trends
    cross join rules
    left join regressing
        on trends.client_id = regressing.client_id and trends.look_on = regressing.look_on
    where
        trends.is_falling
        or (
            regressing.lifts >= rules.drop_lifts
            and regressing.body_parts >= rules.drop_parts
            and trends.fall_p < rules.joint_few_p
            and trends.falling_share >= rules.joint_fall_share
        )
),

clients as (
    select
        client_id::varchar as client_id,
        look_on,
    from int_client__looked
)

select
    'strength_drop' as code,
    2 as lever,
    clients.client_id,
    clients.look_on,
    '' as subject,
    round(
        case
            when drops.client_id is not null
                then fall_shares.fall_share / rules.drop_share - 1
            else greatest(-slides.steepness, 0)
        end,
        9
    ) as severity,
    json_merge_patch(
        case
            when drops.client_id is not null
                then json_object(
                    'lifts', fall_shares.exercises,
                    'mean_drop_pct', round(-100 * fall_shares.fall_share, 9),
                    'body_parts', drops.body_parts
                )
            else json_object()
        end,
        case
            when slides.client_id is not null
                then json_object(
                    'sliding_lifts', slides.sliding_lifts,
                    'change_a_week_pct', slides.change_pct_per_week,
                    'over_weeks', slides.weeks,
                    'regressing_lifts', slides.regressing_lifts
                )
            else json_object()
        end
    ) as evidence,
    'Ask about sleep, food, illness and pain before the next session, and add nothing until the '
    || 'lifts are back. Pain, illness or a sudden loss of strength goes to a licensed professional.'
        as suggestion,
    case
        when drops.client_id is not null and slides.client_id is null then drops.muscles
        when drops.client_id is null then slides.muscles
    end as muscles,
from clients
cross join rules
left join drops
    on clients.client_id = drops.client_id::varchar and clients.look_on = drops.look_on
left join fall_shares
    on clients.client_id = fall_shares.client_id::varchar and clients.look_on = fall_shares.look_on
left join slides on clients.client_id = slides.client_id and clients.look_on = slides.look_on
where drops.client_id is not null or slides.client_id is not null
