-- One row per client and finding: what stands out, and which one thing to change first. Health and
-- data come first, then pulling back, then adding; one change at a time. What concerns muscles is
-- changed first only if a lift of theirs that can be followed stalls or regresses, or the client
-- marked them; while the lifts progress, nothing is. The order and the silences are our own rule.
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
with raised as (
    select *, from care
    union all by name
    select *, from strength_drop
    union all by name
    select *, from return
    union all by name
    select *, from log
    union all by name
    select *, from attendance
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
),

lift_counts as (
    select
        client_id,
        count(*) filter (where has_status) as lifts,
        count(*) filter (where status in ('progressing', 'slowing')) as progressing_lifts,
        count(*) filter (where status = 'regressing') as regressing_lifts,
        coalesce(
            flatten(list(muscles) filter (where needs_look and is_trackable)), []
        ) as standing_muscles,
        count(*) filter (where needs_look and is_trackable) as standing_lifts,
    from int_lift__watched
    group by all
),

recovering as (
    select distinct client_id,
    from raised
    where code in ('strength_drop', 'return')
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
        logged.client_id::varchar as client_id,
        logged.is_led,
        logged.is_cutting,
        coalesce(
            lift_counts.lifts > 0
            and lift_counts.progressing_lifts >= rules.working_share * lift_counts.lifts
            and lift_counts.regressing_lifts = 0,
            false
        ) as is_working,
        coalesce(lift_counts.standing_lifts, 0) as standing_lifts,
        coalesce(lift_counts.standing_muscles, []) as standing_muscles,
        coalesce(marks.muscles, []) as marked_muscles,
        recovering.client_id is not null as is_recovering,
    from int_client__logged as logged
    cross join review.rules as rules
    left join lift_counts on logged.client_id = lift_counts.client_id
    left join marks on logged.client_id = marks.client_id
    left join recovering on logged.client_id = recovering.client_id
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
        coalesce(raised.is_favoured, false) as is_favoured,
        -- more effort is more work, too: not while recovering, not in a cut
        raised.code = 'effort' and (clients.is_recovering or clients.is_cutting) as is_hindered,
        -- 1–5: health and data; 6–13: about muscles; 14 and 15: about lifts, and questions
        case
            when raised.lever <= 5 then true
            when clients.is_working then false
            when raised.is_by_chance then false
            when raised.lever >= 14 then true
            else
                case
                    when raised.muscles is null then clients.standing_lifts > 0
                    else list_has_any(raised.muscles, clients.standing_muscles)
                end
                or (
                    raised.subject <> ''
                    and list_has_any(raised.muscles, clients.marked_muscles)
                )
        end as may_be_first,
    from raised
    inner join clients on raised.client_id = clients.client_id
    where raised.code = 'care' or not clients.is_led
),

ranked as (
    select
        *,
        may_be_first and not is_hindered as is_candidate,
        row_number() over (
            partition by client_id, code
            order by is_candidate desc, is_favoured desc, severity desc, subject
        ) as place_in_code,
        row_number() over (
            partition by client_id
            order by is_candidate desc, lever, is_favoured desc, severity desc, code, subject
        ) as place,
    from weighed
)

select
    client_id,
    code,
    subject,
    lever,
    severity,
    evidence,
    suggestion,
    not is_hindered and (code <> 'volume' or place_in_code = 1) as is_noticed,
    is_candidate and place = 1 as is_first_change,
from ranked
