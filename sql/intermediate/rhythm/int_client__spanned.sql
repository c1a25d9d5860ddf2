-- One row per client, look and span over which weekly rates are taken, deload days taken out of it: whole
-- rounds of the rotation, and plain rules.rate_days beside them.
-- grain: client_id, look_on, span
-- client_id: the client
-- look_on: the look
-- span: current (whole rounds to the look: judged and shown), before (as many days before it); of the
-- last look also month (rules.rate_days to it) and month_before
-- from_on: first day
-- to_on: last day
-- weeks: length without deload days; null: nothing is left [weeks]
with spans as (
    select
        looks.client_id,
        looks.look_on,
        places.span,
        case when places.is_whole_rounds then rounds.rate_days else rules.rate_days end as days,
        looks.look_on - places.nth * days as to_on,
        to_on - days + 1 as from_on,
    from int_client__looked as looks
    cross join review.rules as rules
    cross join (
        values ('current', true, 0), ('before', true, 1), ('month', false, 0),
        ('month_before', false, 1)
    ) as places (span, is_whole_rounds, nth)
    inner join int_client__rounded as rounds
        on looks.client_id = rounds.client_id and looks.look_on = rounds.look_on
    where looks.is_last or places.is_whole_rounds
),

span_days as (
    select
        client_id,
        look_on,
        span,
        unnest(generate_series(from_on, to_on, interval 1 day))::date as day,
    from spans
),

deloads as (
    select
        span_days.client_id,
        span_days.look_on,
        span_days.span,
        count(distinct span_days.day) as days,
    from span_days
    inner join stg_phases as phases
        on
            span_days.client_id = phases.client_id
            and phases.kind = 'deload'
            and span_days.day between phases.from_on and phases.to_on
    group by all
)

select
    spans.client_id,
    spans.look_on,
    spans.span,
    spans.from_on,
    spans.to_on,
    nullif(spans.days - coalesce(deloads.days, 0), 0) / 7 as weeks,
from spans
left join deloads
    on
        spans.client_id = deloads.client_id
        and spans.look_on = deloads.look_on
        and spans.span = deloads.span
