-- One row per client, look and finding: whether it may be the first change there, and its place. What
-- concerns muscles may be only if a lift of theirs that can be followed stalls or regresses on evidence
-- rarer than chance, or the client marked them; while the lifts progress, nothing is, but for what is
-- missing altogether and for marks; where nothing can be shown, what would let the log tell.
-- grain: client_id, look_on, code, subject
-- client_id: the client
-- look_on: the look
-- nth: number of the look
-- code: name of the finding
-- subject: muscle, lift or fault that it is about; empty: the client as a whole
-- lever: place in the order of what to change first, from 1
-- severity: distance from its threshold; comparable within one code
-- evidence: the numbers it rests on
-- suggestion: one small step
-- adds_to: muscles that the step adds work to; null: it adds nothing
-- is_barred: whether nothing may be added now
-- is_waived: whether the coach put it aside
-- is_free: whether it may be the first change
-- place: place among the client's findings of that look, those that are free first
-- place_in_code: the same among those of its code
with raised as (
    select *, from care
    union all by name
    select *, from strength_drop
    union all by name
    select *, from pain_note
    union all by name
    select *, from return
    union all by name
    select *, from log
    union all by name
    select *, from attendance
    union all by name
    select *, from take_back
    union all by name
    select *, from extension
    union all by name
    select *, from failure
    union all by name
    select *, from rest
    union all by name
    select *, from session_size
    union all by name
    select *, from effort
    union all by name
    select *, from volume
    union all by name
    select *, from priority
    union all by name
    select *, from overlap
    union all by name
    select *, from turnover
    union all by name
    select *, from stall
    union all by name
    select *, from jump
    union all by name
    select *, from absent
    union all by name
    select *, from unclear
),

-- nothing is added while strength is lost, work is rebuilt or weight is cut
barred as (
    select distinct
        raised.client_id,
        raised.look_on,
        raised.code,
        raised.subject,
    from raised
    inner join int_client__closed as closed
        on
            raised.client_id = closed.client_id
            and raised.look_on = closed.look_on
            and coalesce(list_has_any(raised.adds_to, closed.muscles), true)
    where raised.adds_to is not null
),

marks as (
    select
        client_id,
        list(muscle) as muscles,
    from stg_favours
    group by all
),

trailing_marks as (
    select
        moving.client_id,
        moving.look_on,
        list(moving.muscle) as muscles,
    from int_muscle__moving as moving
    inner join stg_favours as favours
        on
            moving.client_id = favours.client_id
            and moving.muscle = favours.muscle
            and favours.favour = 'bring_up'
    where not moving.is_rising
    group by all
),

clients as (
    select
        progress.*,
        looks.nth,
        looks.is_led,
        coalesce(marks.muscles, []) as marked_muscles,
        coalesce(trailing_marks.muscles, []) as trailing_muscles,
        coalesce(unclear.subject, '') as unclear_subject,
    from int_client__progress as progress
    inner join int_client__looked as looks
        on progress.client_id = looks.client_id::varchar and progress.look_on = looks.look_on
    left join marks on progress.client_id = marks.client_id
    left join trailing_marks
        on
            progress.client_id = trailing_marks.client_id
            and progress.look_on = trailing_marks.look_on
    left join unclear
        on progress.client_id = unclear.client_id and progress.look_on = unclear.look_on
),

weighed as (
    select
        raised.client_id,
        raised.look_on,
        clients.nth,
        raised.code,
        raised.subject,
        raised.lever,
        raised.adds_to,
        round(raised.severity, 6) as severity,
        raised.evidence,
        raised.suggestion,
        raised.waits_for,
        coalesce(raised.is_favoured, false) as is_favoured,
        coalesce(raised.distance, raised.severity) as distance,
        coalesce(raised.sets_concerned, 0) as sets_concerned,
        barred.code is not null as is_barred,
        waived.code is not null as is_waived,
        -- 1–5: health and data; take_back: all lifts together speak for it; 6–13: about muscles;
        -- 14 and 15: about lifts, and questions; 16: what would let the log tell
        case
            when raised.lever <= 5 or raised.code = 'take_back' then true
            when clients.is_working
                then
                    -- what is missing altogether, and what a muscle to bring up lacks, count even so
                    raised.code = 'absent'
                    or coalesce(raised.is_favoured, false)
                    or (
                        raised.lever <= 13
                        and raised.subject <> ''
                        and list_has_any(raised.muscles, clients.trailing_muscles)
                    )
            when coalesce(raised.is_only_noticed, false) then false
            when raised.lever >= 14 then true
            when raised.code = 'turnover'
                then clients.flagged_lifts > 0 or clients.unclear_subject <> 'effort'
            -- sets far from failure neither show strength nor build it: no time to wait
            when raised.code = 'effort' and clients.unclear_subject = 'wait' then true
            when raised.muscles is null then len(clients.flagged_muscles) > 0
            else
                list_has_any(raised.muscles, clients.flagged_muscles)
                or (
                    raised.subject <> ''
                    and list_has_any(raised.muscles, clients.marked_muscles)
                )
        end as may_be_first,
    from raised
    cross join review.run as run
    cross join review.rules as rules
    inner join clients
        on raised.client_id = clients.client_id and raised.look_on = clients.look_on
    left join barred
        on
            raised.client_id = barred.client_id
            and raised.look_on = barred.look_on
            and raised.code = barred.code
            and raised.subject = barred.subject
    left join stg_waived as waived
        on
            raised.client_id = waived.client_id
            and raised.code = waived.code
            and waived.subject in ('', raised.subject)
            -- health is not put aside for long
            and (
                raised.lever > 3 or waived.until_on - run.as_of <= rules.waive_days_max
            )
    where raised.code = 'care' or not clients.is_led
),

candidates as (
    select
        *,
        may_be_first and not is_barred and not is_waived as is_candidate,
    from weighed
),

ranked as (
    select
        candidates.*,
        candidates.is_candidate and earlier.code is null as is_free,
        row_number() over (
            partition by candidates.client_id, candidates.look_on, candidates.code
            order by
                is_free desc, candidates.is_barred, candidates.is_waived,
                candidates.is_favoured desc, candidates.distance desc,
                candidates.sets_concerned desc, candidates.subject
        ) as place_in_code,
        row_number() over (
            partition by candidates.client_id, candidates.look_on
            order by
                is_free desc, candidates.lever, candidates.code <> 'take_back',
                candidates.is_favoured desc, candidates.distance desc,
                candidates.sets_concerned desc, candidates.code, candidates.subject
        ) as place,
    from candidates
    left join candidates as earlier
        on
            candidates.client_id = earlier.client_id
            and candidates.look_on = earlier.look_on
            and candidates.waits_for = earlier.code
            and earlier.is_candidate
)

select
    client_id,
    look_on,
    nth,
    code,
    subject,
    lever,
    severity,
    evidence,
    suggestion,
    adds_to,
    is_barred,
    is_waived,
    is_free,
    place,
    place_in_code,
from ranked
