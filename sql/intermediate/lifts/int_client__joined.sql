-- One row per client with lifts to judge and look: how fast all of them move, taken together, up to
-- the client's last day before it. The mean of their rates over rules.trend_days, weighted by what each can tell,
-- with the spread between lifts (DerSimonian and Laird 1986, random effects) and the part of a day's
-- noise that its lifts share: ten lifts that each fall a little are one clear fall.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the look
-- lifts: lifts judged together [lifts]
-- change_pct_per_week: mean change a week [%/week]
-- change_low: lower end of its 95 % interval [%/week]
-- change_high: upper end of its 95 % interval [%/week]
-- window_days: days that it rests on [days]
-- falling_share: share of the lifts that point down
-- fall_p: probability, one-sided, of so clear a fall by chance; the less of these days and of the last
-- rules.joint_short_days
-- is_falling: whether all lifts together clearly fall
with rules as (
    select *,
    from review.rules
),

latest as (
    select
        joined.*,
        looks.look_on,
        greatest(joined.days - 2, 1) as freedom,
        normal_tail(
            normal_of_student(-joined.rate / greatest(joined.rate_se, 1e-9), freedom)
        ) as fall_p,
    from int_client_span__joined as joined
    inner join int_client__looked as looks
        on joined.client_id = looks.client_id and joined.until_on = looks.last_on
    where joined.pair in ('trend', 'short') and joined.kind = 'all'
),

falls as (
    select
        latest.client_id,
        latest.look_on,
        min(latest.fall_p) as fall_p,
        coalesce(
            bool_or(
                latest.fall_p < rules.joint_fall_p
                and latest.falling_share >= rules.joint_fall_share
                and latest.lifts >= rules.joint_min_lifts
            ),
            false
        ) as is_falling,
    from latest
    cross join rules
    group by all
)

select
    latest.client_id::varchar as client_id,
    latest.look_on,
    latest.lifts,
    latest.rate as change_pct_per_week,
    round(latest.rate - student_quantile(1.959964, latest.freedom) * latest.rate_se, 9)
        as change_low,
    round(latest.rate + student_quantile(1.959964, latest.freedom) * latest.rate_se, 9)
        as change_high,
    latest.window_days,
    latest.falling_share,
    round(falls.fall_p, 9) as fall_p,
    falls.is_falling,
from latest
inner join falls on latest.client_id = falls.client_id and latest.look_on = falls.look_on
where latest.pair = 'trend'
