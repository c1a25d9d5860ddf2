-- One row per set behind what became of a change: of the four weeks before it and the last four in
-- which it is followed for what was done, else of the days over which the lifts are judged.
-- grain: set_id
-- set_id: the set
-- counts: what it gave to the figure: the strength index for rates; else 1 for a hard set, or one to
-- failure, extended or recorded, as the measure is
-- why: before or since, and what it counted
with changes as (
    select
        followed.changed_on,
        followed.compared_from,
        followed.done_by,
        followed.followed_until,
        rules.change_days,
        $column in ('is_done', 'measure_before', 'measure_since') as is_of_measure,
    from review.follow_through as followed
    cross join review.rules as rules
    where
        followed.client_id = $client_id
        and followed.changed_on = coalesce($on::date, followed.changed_on)
        and followed.code = coalesce($code, followed.code)
        and followed.subject = coalesce($subject, followed.subject)
),

sided as (
    select
        traced.*,
        changes.is_of_measure,
        changes.done_by,
        case when traced.performed_on < changes.changed_on then 'before' else 'since' end as side,
        row_number() over (
            partition by traced.set_id
            order by changes.changed_on desc
        ) as nth_change,
    from traced_sets as traced
    inner join changes
        on
            traced.performed_on <= changes.followed_until
            and traced.performed_on >= case
                when changes.is_of_measure then changes.changed_on - changes.change_days
                else changes.compared_from
            end
            and (
                not changes.is_of_measure
                or traced.performed_on < changes.changed_on
                or traced.performed_on > changes.followed_until - changes.change_days
            )
    where traced.client_id = $client_id and traced.set_kind = 'work'
)

select
    set_id,
    case
        when not is_of_measure then strength_index
        when done_by = 'failure_share' then (effort_basis = 'recorded' and rir_used < 1)::integer
        when done_by = 'extended_share' then is_extended::integer
        when done_by = 'recorded_share' then (effort_basis = 'recorded')::integer
        else is_hard::integer
    end as counts,
    side || ': ' || judged as why,
from sided
where
    nth_change = 1
    and (is_of_measure or (strength_index is not null and not is_suspect))
    and (
        $column not in ('measure_before', 'rate_before', 'measure_since', 'rate_since')
        or side = split_part($column, '_', 2)
    )
