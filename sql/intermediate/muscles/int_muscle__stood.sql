-- One row per client, look and muscle: how many hard sets it gets and how that stands to the guide, as
-- muscle_status says of the last look.
-- grain: client_id, look_on, muscle
-- client_id: the client
-- look_on: the look
-- muscle: the muscle
-- fractional_sets_7d: fractional hard sets of the last seven days [sets]
-- direct_sets_7d: direct hard sets of the last seven days [sets]
-- weekly_rate: fractional hard sets a week over rate_days, deload days left out [sets a week]
-- weekly_rate_before: the same for as many days before those [sets a week]
-- rate_days: whole rounds of the rotation, about 28 days [days]
-- weekly_rate_28d: the same over plain 28 days [sets a week]
-- weekly_rate_prev_28d: the same for the 28 days before those [sets a week]
-- median_gap_days: median days from one hit to the next, over 56 days [days]
-- median_sets_per_hit: median direct hard sets of a day that hits the muscle, over 56 days [sets]
-- guide_low: low end of the guide; null: none [sets a week]
-- guide_high: high end of the guide [sets a week]
-- standing: below, within or above the guide; null: not judged
-- low_end_rate: the rate that the guide's low end is held against: for back that of lats and upper
-- back together [sets a week]
-- hits_56d: days with a direct hard set in 56 days [days]
-- extended_share: share of the rate's sets that went on after failure; null: no sets [share]
-- low_end_group: name of the muscles whose sets together meet the guide's low end (back, or the
-- muscle itself); null: no low end by default, or a guide of the client's own
-- session_low: low end of the guide a session [sets]
-- session_high: high end of the guide a session [sets]
-- may_be_below: whether a low rate can be read as too little: no gap of rules.standing_gap_days
-- between sessions, and few lines that could not be read or are of unknown exercises
with rates as (
    select
        client_id,
        look_on,
        muscle,
        max(weekly_rate) filter (where span = 'current') as weekly_rate,
        max(weekly_rate) filter (where span = 'before') as weekly_rate_before,
        max(weekly_rate) filter (where span = 'month') as weekly_rate_28d,
        max(weekly_rate) filter (where span = 'month_before') as weekly_rate_prev_28d,
        max(group_rate) filter (where span = 'current') as group_rate,
        max(extended_share) filter (where span = 'current') as extended_share,
    from int_muscle__rated
    group by all
),

measured as (
    select
        guided.client_id,
        clients.look_on,
        guided.muscle,
        coalesce(hits.fractional_sets_7d, 0) as fractional_sets_7d,
        coalesce(hits.direct_sets_7d, 0) as direct_sets_7d,
        rates.weekly_rate,
        rates.weekly_rate_before,
        rounds.rate_days,
        rates.weekly_rate_28d,
        rates.weekly_rate_prev_28d,
        hits.median_gap_days,
        hits.median_sets_per_hit,
        guided.guide_low,
        guided.guide_high,
        guided.low_end_group,
        guided.session_low,
        guided.session_high,
        coalesce(hits.hits, 0) as hits,
        rates.extended_share,
        case
            when guided.low_end_group is not null then rates.group_rate
            else rates.weekly_rate
        end as low_end_rate,
        clients.is_judgeable,
        clients.may_be_below,
        rules.rate_days as margin_days,
        rules.extended_share_max,
    from int_client_muscle__guided as guided
    cross join review.rules as rules
    inner join int_client__judgeable as clients on guided.client_id = clients.client_id
    inner join int_client__rounded as rounds
        on clients.client_id = rounds.client_id and clients.look_on = rounds.look_on
    inner join rates
        on
            clients.client_id = rates.client_id
            and clients.look_on = rates.look_on
            and guided.muscle = rates.muscle
    left join int_muscle__hit as hits
        on
            clients.client_id = hits.client_id
            and clients.look_on = hits.look_on
            and guided.muscle = hits.muscle
)

select
    client_id::varchar as client_id,
    look_on,
    muscle,
    round(fractional_sets_7d, 9) as fractional_sets_7d,
    round(direct_sets_7d, 9) as direct_sets_7d,
    weekly_rate,
    weekly_rate_before,
    rate_days,
    weekly_rate_28d,
    weekly_rate_prev_28d,
    round(median_gap_days, 9) as median_gap_days,
    round(median_sets_per_hit, 9) as median_sets_per_hit,
    guide_low,
    guide_high,
    case
        when is_judgeable
            then standing_to_guide(
                weekly_rate,
                low_end_rate,
                guide_low,
                guide_high,
                margin := standing_margin(median_sets_per_hit, margin_days),
                may_be_below := may_be_below
                and coalesce(extended_share, 0) <= extended_share_max
            )
    end as standing,
    low_end_rate,
    hits as hits_56d,
    extended_share,
    low_end_group,
    session_low,
    session_high,
    may_be_below,
from measured
