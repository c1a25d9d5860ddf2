-- One row per noted change and four-week span that is looked at: the one after the change, the one
-- before it, and those that end a week, two weeks … earlier, over rules.change_history_days.
-- grain: client_id, changed_on, nth
-- client_id: the client
-- changed_on: first day of the changed training
-- nth: 0 after, 1 before, 2 a week before that, and so on
-- from_on: first day
-- to_on: last day
-- days: its days from the first logged to the last covered day, deload days left out [days]
-- is_whole: whether the log covers it from end to end
-- is_led: whether a phase of pause or care falls into it
with changes as (
    select distinct
        changes.client_id,
        changes.changed_on,
        clients.first_on,
        clients.covered_on,
        rules.change_days,
        1 + (rules.change_history_days - rules.change_days) // 7 as nth_max,
    from stg_changes as changes
    cross join review.rules as rules
    inner join int_client__logged as clients on changes.client_id = clients.client_id
),

numbered as (
    select
        *,
        unnest(range(nth_max + 1))::integer as nth,
    from changes
),

spans as (
    select
        *,
        case
            when nth = 0 then changed_on
            else changed_on - change_days - 7 * (nth - 1)
        end as from_on,
        from_on + change_days - 1 as to_on,
    from numbered
),

span_days as (
    select
        client_id,
        changed_on,
        nth,
        unnest(range(change_days))::integer + from_on as day,
        first_on,
        covered_on,
    from spans
),

counted_days as (
    select
        span_days.client_id,
        span_days.changed_on,
        span_days.nth,
        count(*) as days,
    from span_days
    anti join stg_phases as phases
        on
            span_days.client_id = phases.client_id
            and phases.kind = 'deload'
            and span_days.day between phases.from_on and phases.to_on
    where span_days.day between span_days.first_on and span_days.covered_on
    group by all
),

led_spans as (
    select distinct
        spans.client_id,
        spans.changed_on,
        spans.nth,
    from spans
    inner join stg_phases as phases
        on
            spans.client_id = phases.client_id
            and phases.kind in ('pause', 'care')
            and phases.from_on <= spans.to_on
            and phases.to_on >= spans.from_on
)

select
    spans.client_id,
    spans.changed_on,
    spans.nth,
    spans.from_on,
    spans.to_on,
    coalesce(counted_days.days, 0)::integer as days,
    spans.first_on <= spans.from_on and spans.to_on <= spans.covered_on as is_whole,
    led_spans.nth is not null as is_led,
from spans
left join counted_days
    on
        spans.client_id = counted_days.client_id
        and spans.changed_on = counted_days.changed_on
        and spans.nth = counted_days.nth
left join led_spans
    on
        spans.client_id = led_spans.client_id
        and spans.changed_on = led_spans.changed_on
        and spans.nth = led_spans.nth
