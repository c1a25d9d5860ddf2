-- One row per client and span over which weekly rates are taken: rules.rate_days long, deload days
-- taken out of it.
-- grain: client_id, span
-- client_id: the client
-- span: current (to the as-of day), previous (before it) or judged (to the last logged day)
-- from_on: first day
-- to_on: last day
-- weeks: length without deload days; null: nothing is left [weeks]
with span_ends as (
    select
        clients.client_id,
        'current' as span,
        run.as_of as to_on,
    from int_client__logged as clients
    cross join review.run as run
    union all
    select
        clients.client_id,
        'previous' as span,
        run.as_of - rules.rate_days as to_on,
    from int_client__logged as clients
    cross join review.run as run
    cross join review.rules as rules
    union all
    select
        client_id,
        'judged' as span,
        last_on as to_on,
    from int_client__logged
),

spans as (
    select
        span_ends.client_id,
        span_ends.span,
        span_ends.to_on,
        rules.rate_days,
    from span_ends
    cross join review.rules as rules
),

span_days as (
    select
        spans.client_id,
        spans.span,
        spans.to_on - spans.rate_days + 1 as from_on,
        spans.to_on,
        spans.rate_days,
        unnest(range(spans.rate_days)) as days_before,
    from spans
),

deload_days as (
    select distinct
        span_days.client_id,
        span_days.span,
        span_days.days_before,
    from span_days
    inner join stg_phases as phases
        on
            span_days.client_id = phases.client_id
            and phases.kind = 'deload'
            and span_days.to_on - span_days.days_before::integer
            between phases.from_on and phases.to_on
),

deloads as (
    select
        client_id,
        span,
        count(*) as days,
    from deload_days
    group by all
)

select
    spans.client_id,
    spans.span,
    spans.to_on - spans.rate_days + 1 as from_on,
    spans.to_on,
    nullif(spans.rate_days - coalesce(deloads.days, 0), 0) / 7 as weeks,
from spans
left join deloads on spans.client_id = deloads.client_id and spans.span = deloads.span
