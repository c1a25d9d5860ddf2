-- One row per client and muscle at the client's last covered day: how many hard sets it gets and how
-- that stands to the guide. The standing is taken from the weekly rate over whole rounds of the
-- rotation: a rolling week beats against any rotation that is not seven days long.
-- grain: client_id, muscle
-- client_id: the client
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
select
    stood.client_id,
    stood.muscle,
    stood.fractional_sets_7d,
    stood.direct_sets_7d,
    stood.weekly_rate,
    stood.weekly_rate_before,
    stood.rate_days,
    stood.weekly_rate_28d,
    stood.weekly_rate_prev_28d,
    stood.median_gap_days,
    stood.median_sets_per_hit,
    stood.guide_low,
    stood.guide_high,
    stood.standing,
    stood.low_end_rate,
    stood.hits_56d,
    stood.extended_share,
    stood.low_end_group,
    stood.session_low,
    stood.session_high,
    stood.may_be_below,
from int_muscle__stood as stood
inner join int_client__looked as looks
    on stood.client_id = looks.client_id and stood.look_on = looks.look_on and looks.is_last
