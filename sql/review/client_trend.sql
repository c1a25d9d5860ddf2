-- One row per client with lifts to judge: how fast all of them move, taken together, up to the
-- client's last day. The mean of their rates over rules.trend_days, weighted by what each can tell,
-- with the spread between lifts (DerSimonian and Laird 1986, random effects) and the part of a day's
-- noise that its lifts share: ten lifts that each fall a little are one clear fall.
-- grain: client_id
-- client_id: the client
-- lifts: lifts judged together [lifts]
-- change_pct_per_week: mean change a week [%/week]
-- change_low: lower end of its 95 % interval [%/week]
-- change_high: upper end of its 95 % interval [%/week]
-- window_days: days that it rests on [days]
-- falling_share: share of the lifts that point down
-- fall_p: probability, one-sided, of so clear a fall by chance; the less of these days and of the last
-- rules.joint_short_days
-- is_falling: whether all lifts together clearly fall
select
    joined.client_id,
    joined.lifts,
    joined.change_pct_per_week,
    joined.change_low,
    joined.change_high,
    joined.window_days,
    joined.falling_share,
    joined.fall_p,
    joined.is_falling,
from int_client__joined as joined
inner join int_client__looked as looks
    on joined.client_id = looks.client_id and joined.look_on = looks.look_on and looks.is_last
