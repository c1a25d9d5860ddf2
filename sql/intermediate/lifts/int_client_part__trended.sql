-- One row per client and body part or muscle with lifts to judge: how fast its lifts move together
-- over rules.trend_days, as client_trend says of all, and how far they trail the client's other lifts.
-- A lift belongs to each part of which it trains a muscle directly. The two intervals are taken as
-- independent; noise that they share makes that of the difference too wide, never too narrow.
-- grain: client_id, kind, subject
-- client_id: the client
-- kind: body_part or muscle
-- subject: the body part or muscle
-- lifts: its lifts that are judged [lifts]
-- change_pct_per_week: their mean change a week [%/week]
-- change_low: lower end of its 95 % interval [%/week]
-- change_high: upper end of its 95 % interval [%/week]
-- place: its place among the client's parts, or muscles, the fastest first
-- places: how many of them are judged
-- other_lifts: the client's other judged lifts; null: none, or too few days [lifts]
-- other_pct_per_week: their mean change a week [%/week]
-- behind_pct_per_week: by how much the others gain more [%/week]
-- behind_low: lower end of its 95 % interval [%/week]
-- behind_high: upper end of its 95 % interval [%/week]
-- is_trailing: whether its lifts gain less than the others by rules.useful_rate_pct or more, and on
-- evidence that chance gives any of the client's parts, or muscles, with rules.trailing_p at most
-- is_leading: whether they gain more, likewise
with rules as (
    select
        useful_rate_pct,
        trailing_p,
    from review.rules
),

spans as (
    select joined.*,
    from int_client_span__joined as joined
    where joined.pair = 'trend' and joined.kind <> 'all'
),

compared as (
    select
        own.*,
        others.lifts as other_lifts,
        others.rate as other_rate,
        others.rate - own.rate as behind,
        greatest(own.days - 2, 1) as freedom,
        greatest(others.days - 2, 1) as other_freedom,
        own.rate_se * student_quantile(1.959964, freedom) as reach,
        sqrt(
            pow(reach, 2)
            + pow(others.rate_se * student_quantile(1.959964, other_freedom), 2)
        ) as behind_reach,
        normal_tail(
            normal_of_student(
                abs(behind)
                / greatest(sqrt(pow(own.rate_se, 2) + pow(others.rate_se, 2)), 1e-9),
                least(freedom, other_freedom)
            )
        ) as behind_p,
        rank() over parts as place,
        count(*) over (partition by own.client_id, own.kind) as places,
    from spans as own
    left join spans as others
        on
            own.client_id = others.client_id
            and own.kind = others.kind
            and own.subject = others.subject
            and not others.is_own
    where own.is_own
    window parts as (partition by own.client_id, own.kind order by own.rate desc)
),

told as (
    select
        compared.*,
        coalesce(
            behind_p * places <= rules.trailing_p
            and abs(behind) >= rules.useful_rate_pct,
            false
        ) as is_apart,
    from compared
    cross join rules
)

select
    client_id::varchar as client_id,
    kind,
    subject,
    lifts,
    rate as change_pct_per_week,
    round(rate - reach, 9) as change_low,
    round(rate + reach, 9) as change_high,
    place::integer as place,
    places::integer as places,
    other_lifts,
    other_rate as other_pct_per_week,
    round(behind, 9) as behind_pct_per_week,
    round(behind - behind_reach, 9) as behind_low,
    round(behind + behind_reach, 9) as behind_high,
    is_apart and behind > 0 as is_trailing,
    is_apart and behind < 0 as is_leading,
from told
