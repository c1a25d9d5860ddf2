-- One row per client back from a layoff or from care: work is rebuilt, not resumed, for longer and from
-- lower after a long time. Not for who is rebuilt already: a week back with about the usual sets.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: empty: the client as a whole
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with returns as (
    select
        returned.*,
        case
            when returned.is_long then rules.long_return_share else rules.return_share
        end as share,
    from int_client__returned as returned
    cross join review.rules as rules
    where not returned.is_rebuilt
)

select
    'return' as code,
    3 as lever,
    returns.client_id::varchar as client_id,
    returns.look_on,
    '' as subject,
    round(returns.layoff_days / rules.not_trained_days - 1, 9) as severity,
    json_object(
        'after', returns.kind,
        'layoff_days', returns.layoff_days,
        'back_since_on', returns.back_on,
        'sessions_since', returns.sessions_since,
        'weekly_sets_since', round(returns.sets_since, 9),
        'weekly_sets_before', round(returns.usual_sets, 9),
        'arithmetic', case
            when returns.usual_sets > 0
                then format(
                    'before it {:g} hard sets a week; about {:.0f} % of them are {:g}',
                    round(returns.usual_sets, 1),
                    100 * returns.share,
                    round(returns.usual_sets * returns.share)
                )
        end
    ) as evidence,
    concat(
        case
            when returns.is_long
                then 'Begin with about a third of the usual sets and clearly lighter loads, and '
                    || 'rebuild over four to eight weeks'
            else 'Do about half the usual sets with lighter loads, and rebuild over two to four '
                || 'weeks'
        end,
        case
            when returns.kind = 'care' then ', within what your licensed professional has cleared'
        end,
        '.'
    ) as suggestion,
    null::varchar[] as muscles,
from returns
cross join review.rules as rules
