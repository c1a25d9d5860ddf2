-- One row per client and look: what stands against judging muscles by the guide.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the look
-- is_judgeable: whether there is history enough, sets in the last week, and no pause or care
-- may_be_below: whether a low rate can be read as too little: no long gap between two sessions of
-- the rate's span, and few lines that could not be read or are of unknown exercises
with judged_days as (
    select
        days.client_id,
        spans.look_on,
        days.day,
        case when days.previous_day >= spans.from_on then days.day - days.previous_day end as gap,
        days.work_sets,
        days.unknown_sets,
    from int_client_day__counted as days
    inner join int_client__spanned as spans
        on
            days.client_id = spans.client_id
            and spans.span = 'current'
            and days.day between spans.from_on and spans.to_on
),

judged_spans as (
    select
        client_id,
        look_on,
        max(gap) as longest_gap,
        sum(unknown_sets) / nullif(sum(work_sets), 0) as unknown_share,
    from judged_days
    group by all
)

select
    looks.client_id,
    looks.look_on,
    looks.look_on - looks.first_on + 1 >= rules.rate_days
    and looks.look_on - looks.last_on <= rules.standing_silent_days
    and not looks.is_led as is_judgeable,
    coalesce(judged_spans.longest_gap, 0) < rules.standing_gap_days
    and looks.unread_share
    + (1 - looks.unread_share) * coalesce(judged_spans.unknown_share, 0)
    <= rules.unknown_share_max as may_be_below,
from int_client__looked as looks
cross join review.rules as rules
left join judged_spans
    on looks.client_id = judged_spans.client_id and looks.look_on = judged_spans.look_on
