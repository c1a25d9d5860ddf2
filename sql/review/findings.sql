-- One row per client and finding: what stands out, and which one thing to change first. Health and
-- data come first, then pulling back, then adding; one change at a time. What concerns muscles is
-- changed first only if a lift of theirs that can be followed stalls or regresses on evidence rarer
-- than chance, or the client marked them; while the lifts progress, nothing is, marks aside; where
-- nothing can be shown, what would let the log tell. The order and the silences are our own rule.
-- grain: client_id, code, subject
-- client_id: the client
-- code: name of the finding
-- subject: muscle, lift or fault that it is about; empty: the client as a whole
-- lever: place in the order of what to change first, from 1
-- severity: distance from its threshold; comparable within one code
-- evidence: the numbers it rests on, units in the names; arithmetic: that of the step (JSON)
-- suggestion: one small step; null: nothing is suggested, in care or pause
-- is_noticed: whether the page names it; of muscles outside the guide one at a time
-- is_first_change: whether it is the one thing to change first, at most one a client
-- is_waived: whether the coach put it aside: it is neither noticed nor first, and bars what it bars
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
closed_clients as (
    select
        client_id,
        null::varchar[] as muscles,
    from strength_drop
    union
    select
        client_id,
        null::varchar[] as muscles,
    from return
    union
    select
        client_id::varchar as client_id,
        null::varchar[] as muscles,
    from int_client__logged
    where is_cutting
    union
    select
        client_id,
        muscles,
    from pain_note
),

barred as (
    select distinct
        raised.client_id,
        raised.code,
        raised.subject,
    from raised
    inner join closed_clients
        on
            raised.client_id = closed_clients.client_id
            and coalesce(list_has_any(raised.adds_to, closed_clients.muscles), true)
    where raised.adds_to is not null
),

marks as (
    select
        client_id,
        list(muscle) as muscles,
    from stg_favours
    group by all
),

clients as (
    select
        progress.*,
        logged.is_led,
        coalesce(marks.muscles, []) as marked_muscles,
        coalesce(efforts.is_unnoted, false) as is_effort_unnoted,
    from int_client__progress as progress
    inner join int_client__logged as logged on progress.client_id = logged.client_id::varchar
    left join marks on progress.client_id = marks.client_id
    left join (
        select
            client_id,
            bool_or(subject = 'effort') as is_unnoted,
        from unclear
        group by all
    ) as efforts on progress.client_id = efforts.client_id
),

weighed as (
    select
        raised.client_id,
        raised.code,
        raised.subject,
        raised.lever,
        round(raised.severity, 6) as severity,
        raised.evidence,
        raised.suggestion,
        raised.waits_for,
        coalesce(raised.is_favoured, false) as is_favoured,
        coalesce(raised.distance, raised.severity) as distance,
        coalesce(raised.sets_concerned, 0) as sets_concerned,
        barred.code is not null as is_barred,
        waived.code is not null as is_waived,
        -- 1–5 and take_back, which all lifts together speak for; 6–13: about muscles; 14 and 15: about lifts, and questions; 16: what
        -- would let the log tell
        case
            when raised.lever <= 5 or raised.code = 'take_back' then true
            when clients.is_working then coalesce(raised.is_favoured, false)
            when coalesce(raised.is_by_chance, false) then false
            when raised.lever >= 14 then true
            when raised.code = 'turnover'
                then clients.flagged_lifts > 0 or not clients.is_effort_unnoted
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
    inner join clients on raised.client_id = clients.client_id
    left join barred
        on
            raised.client_id = barred.client_id
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
        candidates.* exclude (is_candidate),
        candidates.is_candidate and earlier.code is null as is_free,
        row_number() over (
            partition by candidates.client_id, candidates.code
            order by
                is_free desc, candidates.is_barred, candidates.is_waived,
                candidates.is_favoured desc, candidates.distance desc,
                candidates.sets_concerned desc, candidates.subject
        ) as place_in_code,
        row_number() over (
            partition by candidates.client_id
            order by
                is_free desc, candidates.lever, candidates.code <> 'take_back',
                candidates.is_favoured desc, candidates.distance desc,
                candidates.sets_concerned desc, candidates.code,
                candidates.subject
        ) as place,
    from candidates
    left join candidates as earlier
        on
            candidates.client_id = earlier.client_id
            and candidates.waits_for = earlier.code
            and earlier.is_candidate
)

select
    client_id,
    code,
    subject,
    lever,
    severity,
    evidence,
    suggestion,
    not is_barred
    and not is_waived
    and (code <> 'volume' or place_in_code = 1) as is_noticed,
    is_free and place = 1 as is_first_change,
    is_waived,
from ranked
-- that nothing can be shown is said where there is nothing else to say
where code <> 'unclear' or (is_free and place = 1)
