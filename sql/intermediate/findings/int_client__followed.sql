-- One row per client and look with a first change: what it is, followed from look to look. It stays
-- while it is true, and rules.stay_days after that, so that a client reads the same in two weeks
-- running on the same course. It gives way at once to a lower lever, to a phase or a noted change, and where it
-- would add what may not be added; what is put aside is never first. Facts of health and of the log
-- (levers 1 to 4, all but lost strength) go as soon as they are over.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the look
-- nth: number of the look
-- code: name of the finding
-- subject: muscle, lift or fault that it is about
-- true_on: last look at which it was true
with recursive looks as (
    select
        looks.client_id::varchar as client_id,
        looks.look_on,
        looks.nth,
        case when looks.is_last then run.as_of else looks.look_on end as known_on,
        lag(known_on, 1, known_on) over (
            partition by looks.client_id
            order by looks.nth
        ) as known_before,
    from int_client__looked as looks
    cross join review.run as run
),

turns as (
    select
        client_id,
        changed_on as turned_on,
    from stg_changes
    union
    select
        client_id,
        unnest([from_on, to_on + 1]) as turned_on,
    from stg_phases
    where from_on <= to_on
),

turned_looks as (
    select
        looks.*,
        bool_or(turns.turned_on is not null) as is_turned,
    from looks
    left join turns
        on
            looks.client_id = turns.client_id
            and turns.turned_on > looks.known_before
            and turns.turned_on <= looks.known_on
    group by all
),

-- what may not be added, for whom
closed_muscles as (
    select
        client_id,
        look_on,
        muscles,
    from int_client__closed
    union all
    select
        client_id,
        look_on,
        [muscle] as muscles,
    from int_muscle__moving
    where is_regressing
),

closings as (
    select
        client_id,
        look_on,
        bool_or(muscles is null) as is_closed,
        flatten(list(muscles) filter (where muscles is not null)) as muscles,
    from closed_muscles
    group by all
),

firsts as (
    select *,
    from int_finding__weighed
    where is_free and place = 1
),

followed as (
    select
        looks.client_id,
        looks.look_on,
        looks.nth,
        firsts.code,
        firsts.subject,
        firsts.lever,
        firsts.adds_to,
        looks.look_on as true_on,
    from turned_looks as looks
    left join firsts on looks.client_id = firsts.client_id and looks.nth = firsts.nth
    where looks.nth = 1
    union all
    select
        looks.client_id,
        looks.look_on,
        looks.nth,
        case when stays then held.code else firsts.code end as code,
        case when stays then held.subject else firsts.subject end as subject,
        case when stays then held.lever else firsts.lever end as lever,
        case when stays then held.adds_to else firsts.adds_to end as adds_to,
        case
            when stays and not coalesce(raised.is_free, false) then held.true_on
            else looks.look_on
        end as true_on,
    from followed as held
    cross join review.rules as rules
    inner join turned_looks as looks
        on held.client_id = looks.client_id and held.nth + 1 = looks.nth
    left join firsts on looks.client_id = firsts.client_id and looks.nth = firsts.nth
    left join int_finding__weighed as raised
        on
            looks.client_id = raised.client_id
            and looks.nth = raised.nth
            and held.code = raised.code
            and held.subject = raised.subject
    left join closings
        on looks.client_id = closings.client_id and looks.look_on = closings.look_on
    cross join lateral (
        select
            held.code is not null
            and not looks.is_turned
            and (
                firsts.code is null
                -- what was made worse is undone before the next lever of its own
                or (firsts.lever, firsts.code <> 'take_back')
                >= (held.lever, held.code <> 'take_back')
            )
            and (
                coalesce(raised.is_free, false)
                or (
                    (held.lever >= 5 or held.code = 'strength_drop')
                    and looks.look_on - held.true_on < rules.stay_days
                    and not coalesce(raised.is_barred or raised.is_waived, false)
                    and not coalesce(
                        held.adds_to is not null
                        and (closings.is_closed or list_has_any(held.adds_to, closings.muscles)),
                        false
                    )
                )
            ) as stays,
    ) as turns_out
)

select
    client_id,
    look_on,
    nth,
    code,
    subject,
    true_on,
from followed
where code is not null
