-- One row per client and muscle outside its guide. Nothing is added while something is to be pulled
-- back or asked about, while a lift of the muscle regresses, in a cut, for a muscle that is held back,
-- where harder work sets would do, or where the muscle's lifts rise and the client has not marked it:
-- low volume that works is left alone. The guide is one of muscle growth: who trains for strength, with
-- few repetitions, is not asked first to add sets, marks aside. Front delts above wait for the overlap, if there is one.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: the muscle
-- severity: distance from the guide, in steps of rules.volume_step
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: the muscle alone
-- is_favoured: whether the client wants to bring it up and it is below
-- is_only_noticed: whether it is sets to add for who trains for strength
-- adds_to: muscles that the step adds work to; null: it takes away
-- waits_for: the finding that comes before it
-- distance: distance from the guide, by the spread of a count [standard deviations]
-- sets_concerned: hard sets a week [sets]
with outside as (
    select
        status.client_id,
        status.look_on,
        status.muscle,
        lower(muscles.label) as label,
        status.standing,
        case
            when status.standing = 'below' then status.low_end_rate
            else rated.weekly_rate
        end as rate,
        status.guide_low,
        status.guide_high,
        status.standing = 'below' and coalesce(favours.favour = 'bring_up', false) as is_favoured,
        coalesce(favours.favour = 'hold_back', false) as is_held_back,
        coalesce(worked.work_rate, 0) as work_rate,
    from int_muscle__stood as status
    inner join stg_muscles as muscles on status.muscle = muscles.muscle
    inner join int_muscle__rated as rated
        on
            status.client_id = rated.client_id
            and status.look_on = rated.look_on
            and status.muscle = rated.muscle
            and rated.span = 'current'
    left join stg_favours as favours
        on status.client_id = favours.client_id and status.muscle = favours.muscle
    left join int_muscle__worked as worked
        on
            status.client_id = worked.client_id
            and status.look_on = worked.look_on
            and status.muscle = worked.muscle
    where status.standing in ('below', 'above')
),

hindered_clients as (
    select
        client_id,
        look_on,
    from strength_drop
    union
    select
        client_id,
        look_on,
    from return
    union
    select
        client_id,
        look_on,
    from attendance
    union
    select
        client_id,
        look_on,
    from extension
    union
    select
        client_id,
        look_on,
    from failure
    union
    select
        client_id,
        look_on,
    from rest
    union
    select
        client_id::varchar,
        look_on,
    from int_client__looked
    where is_cutting
),

candidates as (
    select
        outside.*,
        case
            when outside.standing = 'below' then outside.guide_low - outside.rate
            else outside.rate - outside.guide_high
        end as sets_outside,
        case
            when outside.standing = 'below' then rules.volume_step
            else -rules.volume_step
        end as step,
        case
            when outside.standing = 'below' then outside.guide_low else outside.guide_high
        end as guide_end,
    from outside
    cross join review.rules as rules
    left join hindered_clients
        on
            outside.client_id = hindered_clients.client_id
            and outside.look_on = hindered_clients.look_on
    left join int_muscle__moving as moving
        on
            outside.client_id = moving.client_id
            and outside.look_on = moving.look_on
            and outside.muscle = moving.muscle
    left join session_size
        on
            outside.client_id = session_size.client_id
            and outside.look_on = session_size.look_on
            and outside.muscle = session_size.subject
    where
        outside.standing = 'above'
        or (
            hindered_clients.client_id is null
            and not coalesce(moving.is_regressing, false)
            and (outside.is_favoured or not coalesce(moving.is_rising, false))
            and session_size.client_id is null
            and not outside.is_held_back
            and outside.work_rate < outside.guide_low
        )
),

-- the weekly rate as one hit every seven days
changed as (
    select
        candidates.*,
        rates.weekly_rate_after,
    from candidates,
        changed_rate(candidates.rate, 7, sets_added := candidates.step) as rates
)

select
    'volume' as code,
    10 as lever,
    changed.client_id,
    changed.look_on,
    changed.muscle as subject,
    round(changed.sets_outside / rules.volume_step, 9) as severity,
    json_object(
        'standing', changed.standing,
        'weekly_rate_sets', changed.rate,
        'guide_low_sets', changed.guide_low,
        'guide_high_sets', changed.guide_high,
        'over_days', rounds.rate_days,
        'sets_outside', round(changed.sets_outside, 9),
        'arithmetic', format(
            '{:g} sets a week now; {:g} {} are {:g}; the guide {} {:g}',
            round(changed.rate, 1),
            rules.volume_step,
            case when changed.standing = 'below' then 'more' else 'fewer' end,
            round(changed.weekly_rate_after, 1),
            case when changed.standing = 'below' then 'begins at' else 'ends at' end,
            case
                when changed.standing = 'below' then changed.guide_low
                else changed.guide_high
            end
        )
    ) as evidence,
    case
        when changed.standing = 'below'
            then format('Add {:g} hard sets a week for {}.', rules.volume_step, changed.label)
        else format('Take away {:g} hard sets a week for {}.', rules.volume_step, changed.label)
    end as suggestion,
    [changed.muscle] as muscles,
    changed.is_favoured,
    changed.standing = 'below' and not changed.is_favoured and progress.is_heavy as is_only_noticed,
    case when changed.standing = 'below' then [changed.muscle] end as adds_to,
    case
        when changed.standing = 'above' and changed.muscle = 'front_delts' then 'overlap'
    end as waits_for,
    round(
        changed.sets_outside / sqrt(greatest(changed.guide_end, 1) / (rounds.rate_days / 7)), 6
    ) as distance,
    changed.rate as sets_concerned,
from changed
cross join review.rules as rules
inner join int_client__rounded as rounds
    on changed.client_id = rounds.client_id::varchar and changed.look_on = rounds.look_on
inner join int_client__progress as progress
    on changed.client_id = progress.client_id and changed.look_on = progress.look_on
