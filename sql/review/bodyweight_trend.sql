-- One row per client with weigh-ins enough: how bodyweight moves, beside what the lifts do together,
-- over rules.trend_days to the last covered day; in a cut over the days of the cut. The median of the
-- slopes between all pairs of weigh-ins (Theil 1950; interval by Sen 1968), so that one odd weigh-in
-- says nothing; a day's water moves single weigh-ins by a per cent or two.
-- grain: client_id
-- client_id: the client
-- weigh_ins: days weighed [days]
-- first_on: first of them
-- last_on: last of them
-- bodyweight_kg: median of the last rules.bodyweight_min weigh-ins [kg]
-- change_pct_per_week: change of bodyweight a week [%/week]
-- change_low: lower end of its 95 % interval [%/week]
-- change_high: upper end of its 95 % interval [%/week]
-- is_cutting: whether the client is in a cut
-- strength_pct_per_week: change of all lifts together, as in client_trend; null: none [%/week]
-- strength: holds (surely no fall of more than twice rules.useful_rate_pct a week), falls (surely
-- below 0) or unclear; null: no lifts to judge, or nothing is judged in pause or care
with cuts as (
    select
        phases.client_id,
        max(phases.from_on) as cut_from,
    from stg_phases as phases
    inner join int_client__logged as clients on phases.client_id = clients.client_id
    where
        phases.kind = 'cut'
        and phases.from_on <= clients.covered_on
        and phases.to_on >= clients.covered_on
    group by all
),

weigh_ins as (
    select
        clients.client_id,
        clients.is_led,
        bodyweights.performed_on,
        bodyweights.bodyweight_kg,
        cuts.cut_from is not null as is_cutting,
    from int_client__looked as clients
    cross join review.rules as rules
    left join cuts on clients.client_id = cuts.client_id
    inner join stg_bodyweights as bodyweights
        on
            clients.client_id = bodyweights.client_id
            and bodyweights.performed_on <= clients.look_on
            and bodyweights.performed_on > clients.look_on - rules.trend_days
            and bodyweights.performed_on >= coalesce(cuts.cut_from, bodyweights.performed_on)
    where clients.is_last
),

clients as (
    select
        weigh_ins.client_id,
        bool_or(weigh_ins.is_cutting) as is_cutting,
        bool_or(weigh_ins.is_led) as is_led,
        count(*) as weigh_ins,
        min(weigh_ins.performed_on) as first_on,
        max(weigh_ins.performed_on) as last_on,
        median(weigh_ins.bodyweight_kg) filter (where weigh_ins.from_last <= weigh_ins.least)
            as bodyweight_kg,
        -- half of what Kendall's count of rising pairs varies by, with 95 %
        1.959963985 * sqrt(
            count(*) * (count(*) - 1) * (2 * count(*) + 5) / 18
        ) as reach,
    from (
        select
            weigh_ins.*,
            rules.bodyweight_min as least,
            row_number() over (
                partition by weigh_ins.client_id
                order by weigh_ins.performed_on desc
            ) as from_last,
        from weigh_ins
        cross join review.rules as rules
    ) as weigh_ins
    group by weigh_ins.client_id
),

slopes as (
    select
        later.client_id,
        list_sort(
            list(
                100 * ln(later.bodyweight_kg / earlier.bodyweight_kg)
                / ((later.performed_on - earlier.performed_on) / 7)
            )
        ) as slopes,
    from weigh_ins as later
    inner join weigh_ins as earlier
        on
            later.client_id = earlier.client_id
            and later.performed_on > earlier.performed_on
    group by all
),

trends as (
    select
        clients.*,
        list_median(slopes.slopes) as rate,
        len(slopes.slopes) as pairs,
        slopes.slopes[greatest(floor((pairs - clients.reach) / 2), 1)::bigint] as low,
        slopes.slopes[least(ceil((pairs + clients.reach) / 2) + 1, pairs)::bigint] as high,
    from clients
    cross join review.rules as rules
    inner join slopes on clients.client_id = slopes.client_id
    where
        clients.weigh_ins >= rules.bodyweight_min
        and clients.last_on - clients.first_on >= rules.bodyweight_min_days
)

select
    trends.client_id::varchar as client_id,
    trends.weigh_ins,
    trends.first_on,
    trends.last_on,
    round(trends.bodyweight_kg, 9) as bodyweight_kg,
    round(trends.rate, 9) as change_pct_per_week,
    round(trends.low, 9) as change_low,
    round(trends.high, 9) as change_high,
    trends.is_cutting,
    lifts.change_pct_per_week as strength_pct_per_week,
    case
        when trends.is_led or lifts.client_id is null then null
        when lifts.change_high < 0 then 'falls'
        when lifts.change_low > -2 * rules.useful_rate_pct then 'holds'
        else 'unclear'
    end as strength,
from trends
cross join review.rules as rules
left join review.client_trend as lifts on trends.client_id = lifts.client_id
