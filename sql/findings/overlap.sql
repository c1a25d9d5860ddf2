-- One row per client whose front delts get more than the guide from pressing and raises together,
-- while side or rear delts get little: the raises are the part that can move.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: front_delts
-- severity: distance of front delts from the guide, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: the three parts of the delts
-- is_favoured: whether the client wants to bring side or rear delts up
-- adds_to: the part that gets the sets; null: in a cut
with raises as (
    select
        spans.client_id,
        spans.look_on,
        sum(counted.hard_sets) / spans.weeks as raise_rate,
    from int_lift_session__counted as counted
    inner join int_client__spanned as spans
        on
            counted.client_id = spans.client_id
            and spans.span = 'current'
            and counted.day between spans.from_on and spans.to_on
    inner join stg_exercises as exercises
        on counted.exercise = exercises.exercise and exercises.movement = 'isolation'
    inner join review.exercise_muscles as exercise_muscles
        on
            counted.exercise = exercise_muscles.exercise
            and exercise_muscles.muscle = 'front_delts'
            and exercise_muscles.role = 'direct'
    where counted.hard_sets > 0
    group by spans.client_id, spans.look_on, spans.weeks
),

delts as (
    select
        status.client_id,
        status.look_on,
        status.muscle,
        lower(muscles.label) as label,
        status.standing,
        rated.weekly_rate,
        status.guide_high,
        coalesce(status.guide_low, rules.guide_week_low) as low_end,
        coalesce(favours.favour = 'bring_up', false) as is_favoured,
    from int_muscle__stood as status
    cross join review.rules as rules
    inner join stg_muscles as muscles on status.muscle = muscles.muscle
    inner join int_muscle__rated as rated
        on
            status.client_id = rated.client_id
            and status.look_on = rated.look_on
            and status.muscle = rated.muscle
            and rated.span = 'current'
    left join stg_favours as favours
        on status.client_id = favours.client_id and status.muscle = favours.muscle
    where status.muscle in ('front_delts', 'side_delts', 'rear_delts')
),

low_delts as (
    select *,
    from delts
    where muscle <> 'front_delts' and weekly_rate < low_end
    qualify
        row_number() over (
            partition by client_id, look_on
            order by is_favoured desc, weekly_rate / low_end, muscle
        ) = 1
),

favoured_delts as (
    select distinct
        client_id,
        look_on,
    from delts
    where muscle <> 'front_delts' and is_favoured
),

changed as (
    select
        front.client_id,
        front.look_on,
        front.weekly_rate as front_rate,
        front.guide_high,
        low_delts.muscle as low_muscle,
        low_delts.label as low_label,
        low_delts.weekly_rate as low_rate,
        raises.raise_rate,
        least(rules.volume_step, raises.raise_rate) as step,
        looks.is_cutting,
        favoured_delts.client_id is not null as is_favoured,
        rates.weekly_rate_after as front_after,
    from delts as front
    cross join review.rules as rules
    inner join raises on front.client_id = raises.client_id and front.look_on = raises.look_on
    inner join low_delts
        on front.client_id = low_delts.client_id and front.look_on = low_delts.look_on
    left join favoured_delts
        on front.client_id = favoured_delts.client_id and front.look_on = favoured_delts.look_on
    inner join int_client__looked as looks
        on front.client_id = looks.client_id and front.look_on = looks.look_on,
        changed_rate(
            front.weekly_rate,
            7,
            sets_added := -least(rules.volume_step, raises.raise_rate)
        ) as rates
    where front.muscle = 'front_delts' and front.standing = 'above'
)

select
    'overlap' as code,
    12 as lever,
    client_id,
    look_on,
    'front_delts' as subject,
    round(front_rate / guide_high - 1, 9) as severity,
    json_object(
        'front_delts_weekly_sets', front_rate,
        'guide_high_sets', guide_high,
        'isolation_weekly_sets', round(raise_rate, 9),
        'low_muscle', low_muscle,
        'low_weekly_sets', low_rate,
        'arithmetic', format(
            'front delts {:g} sets a week, {:g} of them raises; without {:g} of those {:g}',
            round(front_rate, 1),
            round(raise_rate, 1),
            round(step, 1),
            round(front_after, 1)
        )
    ) as evidence,
    case
        when is_cutting
            then format('Leave out {:g} front-delt isolation sets a week.', round(step, 1))
        else format(
            'Do {:g} sets a week for {} in place of as many isolation sets for front delts.',
            round(step, 1),
            low_label
        )
    end as suggestion,
    ['front_delts', 'side_delts', 'rear_delts'] as muscles,
    is_favoured,
    case when not is_cutting then [low_muscle] end as adds_to,
from changed
