-- One row per client who holds back a muscle that sits higher in its guide than one to bring up: the
-- pair that lies furthest apart. Place in the guide: 0 at its low end, 1 at its high end; where a
-- muscle has no low end, the default one.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: the muscle that is held back
-- severity: distance of the two places in their guides
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: the two muscles
-- is_favoured: whether it serves a muscle that the client marked: always
-- adds_to: the muscle to bring up; null: in a cut
with places as (
    select
        status.client_id,
        status.look_on,
        status.muscle,
        lower(muscles.label) as label,
        favours.favour,
        rated.weekly_rate,
        least(
            coalesce(status.guide_low, rules.guide_week_low), status.guide_high / 2
        ) as default_low,
        coalesce(status.guide_low, default_low) as low_end,
        (rated.weekly_rate - low_end) / nullif(status.guide_high - low_end, 0) as place,
    from int_muscle__stood as status
    cross join review.rules as rules
    inner join stg_favours as favours
        on status.client_id = favours.client_id and status.muscle = favours.muscle
    inner join stg_muscles as muscles on status.muscle = muscles.muscle
    inner join int_muscle__rated as rated
        on
            status.client_id = rated.client_id
            and status.look_on = rated.look_on
            and status.muscle = rated.muscle
            and rated.span = 'current'
    where status.standing is not null
),

pairs as (
    select
        held.client_id,
        held.look_on,
        held.muscle as held_muscle,
        held.label as held_label,
        held.weekly_rate as held_rate,
        held.place as held_place,
        favoured.muscle as favoured_muscle,
        favoured.label as favoured_label,
        favoured.weekly_rate as favoured_rate,
        favoured.place as favoured_place,
        round(held.place - favoured.place, 9) as apart,
    from places as held
    inner join places as favoured
        on
            held.client_id = favoured.client_id
            and held.look_on = favoured.look_on
            and held.favour = 'hold_back'
            and favoured.favour = 'bring_up'
    where apart > 0
    qualify
        row_number() over (
            partition by held.client_id, held.look_on
            order by apart desc, held.muscle, favoured.muscle
        ) = 1
),

changed as (
    select
        pairs.*,
        held_rates.weekly_rate_after as held_after,
        favoured_rates.weekly_rate_after as favoured_after,
        looks.is_cutting,
        rules.volume_step,
    from pairs
    cross join review.rules as rules
    inner join int_client__looked as looks
        on pairs.client_id = looks.client_id and pairs.look_on = looks.look_on,
        changed_rate(pairs.held_rate, 7, sets_added := -rules.volume_step) as held_rates,
        changed_rate(pairs.favoured_rate, 7, sets_added := rules.volume_step) as favoured_rates
)

select
    'priority' as code,
    11 as lever,
    client_id,
    look_on,
    held_muscle as subject,
    apart as severity,
    json_object(
        'favoured', favoured_muscle,
        'held_back_weekly_sets', held_rate,
        'favoured_weekly_sets', favoured_rate,
        'held_back_place_share', round(held_place, 9),
        'favoured_place_share', round(favoured_place, 9),
        'arithmetic', case
            when not is_cutting
                then format(
                    '{} from {:g} to {:g} sets a week, {} from {:g} to {:g}',
                    held_label,
                    round(held_rate, 1),
                    round(held_after, 1),
                    favoured_label,
                    round(favoured_rate, 1),
                    round(favoured_after, 1)
                )
        end
    ) as evidence,
    case
        when is_cutting
            then format('Take {:g} sets a week from {}.', volume_step, held_label)
        else format(
            'Move {:g} sets a week from {} to {}.', volume_step, held_label, favoured_label
        )
    end as suggestion,
    [held_muscle, favoured_muscle] as muscles,
    true as is_favoured,
    case when not is_cutting then [favoured_muscle] end as adds_to,
from changed
