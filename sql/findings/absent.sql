-- One row per client and large muscle group without a direct hard set in the rules.rate_days to the
-- last covered day: asked only of someone who trained through them and did not hold the muscle back. A
-- group whose sets are all easy is not absent: that is a matter of effort. In a cut, in pain, or while
-- strength is lost it is asked about and nothing is added.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: chest, back, quads or hamstrings_glutes
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles of the group
with large_groups as (
    select
        muscle,
        case
            when body_part in ('chest', 'back') then body_part
            when muscle = 'quads' then 'quads'
            when muscle in ('hamstrings', 'glutes') then 'hamstrings_glutes'
        end as group_name,
    from stg_muscles
    where group_name is not null
),

group_days as (
    select
        looks.client_id,
        looks.look_on,
        looks.is_cutting,
        large_groups.group_name,
        looks.first_on,
        max(muscle_day.day) filter (where muscle_day.direct_sets > 0) as last_hit_on,
        list(distinct large_groups.muscle order by large_groups.muscle) as muscles,
    from int_client__looked as looks
    cross join large_groups
    left join review.muscle_day as muscle_day
        on
            looks.client_id = muscle_day.client_id
            and looks.look_on >= muscle_day.day
            and large_groups.muscle = muscle_day.muscle
    group by all
),

held_groups as (
    select distinct
        favours.client_id,
        large_groups.group_name,
    from stg_favours as favours
    inner join large_groups on favours.muscle = large_groups.muscle
    where favours.favour = 'hold_back'
),

easy_groups as (
    select distinct
        worked.client_id,
        worked.look_on,
        large_groups.group_name,
    from int_muscle__worked as worked
    inner join large_groups on worked.muscle = large_groups.muscle
    where worked.work_sets > 0
),

measured as (
    select
        group_days.*,
        group_days.look_on
        - coalesce(group_days.last_hit_on, group_days.first_on - 1) as days_without,
    from group_days
    anti join held_groups
        on
            group_days.client_id = held_groups.client_id
            and group_days.group_name = held_groups.group_name
    anti join easy_groups
        on
            group_days.client_id = easy_groups.client_id
            and group_days.look_on = easy_groups.look_on
            and group_days.group_name = easy_groups.group_name
    inner join int_client__judgeable as clients
        on
            group_days.client_id = clients.client_id
            and group_days.look_on = clients.look_on
            and clients.is_judgeable
            and clients.may_be_below
),

no_adding as (
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
    from pain_note
)

select
    'absent' as code,
    15 as lever,
    measured.client_id::varchar as client_id,
    measured.look_on,
    measured.group_name as subject,
    round(measured.days_without / rules.rate_days - 1, 9) as severity,
    json_object(
        'days_without_a_hard_set', measured.days_without,
        'last_on', measured.last_hit_on
    ) as evidence,
    case
        when measured.is_cutting or no_adding.client_id is not null
            then 'Ask whether it is left out on purpose.'
        else format(
            'Ask whether it is left out on purpose; if not, begin with {:g} sets a week.',
            rules.volume_step
        )
    end as suggestion,
    measured.muscles,
from measured
cross join review.rules as rules
left join no_adding
    on measured.client_id = no_adding.client_id and measured.look_on = no_adding.look_on
where measured.days_without >= rules.rate_days
