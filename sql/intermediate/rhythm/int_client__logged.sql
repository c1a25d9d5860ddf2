-- One row per client with sets: since when and until when there is something to judge by.
-- grain: client_id
-- client_id: the client
-- first_on: first logged day
-- last_on: last logged day up to the as-of day; nothing is judged later
-- is_led: whether a phase of pause or care holds between the last logged day and the as-of day:
-- figures only, no judgement
-- is_cutting: whether the client is in a cut at the as-of day
with spans as (
    select
        client_id,
        min(day) as first_on,
        max(day) as last_on,
    from int_client_day__counted
    group by all
)

select
    spans.client_id,
    spans.first_on,
    spans.last_on,
    coalesce(
        bool_or(phases.kind in ('pause', 'care') and phases.to_on >= spans.last_on), false
    ) as is_led,
    coalesce(bool_or(phases.kind = 'cut' and phases.to_on >= run.as_of), false) as is_cutting,
from spans
cross join review.run as run
left join stg_phases as phases
    on spans.client_id = phases.client_id and phases.from_on <= run.as_of
group by all
