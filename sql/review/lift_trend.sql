-- One row per client, exercise and week with a session, of the rules.look_weeks to the client's last
-- day: how fast the lift moved, how sure that is, and what follows, as it would have been said then.
-- A stall appears on strong evidence (rules.stall_p) and stays while its rule holds, so that a look
-- that falls a little short changes nothing. How a lift is judged is told in sql/README.md, how often
-- that errs in tests/README.md.
-- grain: client_id, exercise, week
-- client_id: the client
-- exercise: the exercise
-- week: Monday of the week
-- sessions: sessions that the rate rests on [sessions]
-- change_pct_per_week: change a week; null: too little data [%/week]
-- change_low: lower end of its 95 % interval [%/week]
-- change_high: upper end of its 95 % interval [%/week]
-- expected_pct_per_week: what was to be expected: the lift's own earlier rate, within bounds [%/week]
-- status: progressing, slowing, stalled, regressing, unclear or too_little_data; null: in pause or care
-- cause: what decided where it is not the interval alone: regaining, cut, new_record, no_progress,
-- flattening (rising over all, but perhaps not in the latest weeks), led
-- window_days: days that the rate rests on [days]
-- weeks_until_clear: more weeks at this pace of sessions until the data would tell; null: they do,
-- or not in rules.trend_days_max
-- flat_weeks: weeks without progress of a lift that stalls; else null [weeks]
-- flag_p: probability of so much evidence by chance where it stalls or regresses; else null
-- end_pct_per_week: rate since the likeliest bend down; null: none can be told [%/week]
-- noise_pct: standard deviation of sessions about their course [%]
-- correlation: between neighbouring sessions
-- last_on: last session that the rate rests on
with rules as (
    select *,
    from review.rules
),

phased_looks as (
    select
        looks.client_id,
        looks.exercise,
        looks.week,
        bool_or(phases.kind in ('pause', 'care')) as is_led,
        bool_or(phases.kind = 'cut') as is_cutting,
    from int_lift_look__drawn as looks
    inner join stg_phases as phases
        on
            looks.client_id = phases.client_id
            and looks.last_day between phases.from_on and phases.to_on
    group by all
),

remembered as (
    select
        judged.*,
        max(week) filter (where seems_stalled and judged.stall_p <= rules.stall_p) over memory
            as evident_on,
        max(week) filter (where not seems_stalled and not is_falling) over memory as moved_on,
    from int_lift_look__judged as judged
    cross join (
        select
            stall_p,
            stall_memory_weeks,
        from rules
    ) as rules
    window memory as (
        partition by client_id, exercise, run
        order by week
        range between to_days(7 * rules.stall_memory_weeks) preceding and current row
    )
),

looks as (
    select
        drawn.client_id,
        drawn.exercise,
        drawn.week,
        drawn.is_regaining,
        drawn.has_unrecorded_record,
        coalesce(phased_looks.is_led, false) as is_led,
        coalesce(phased_looks.is_cutting, false) as is_cutting,
        judged.* exclude (client_id, exercise, week, run),
        coalesce(
            judged.seems_stalled
            and judged.evident_on > coalesce(judged.moved_on, date '0001-01-01'),
            false
        ) as is_stalled,
        judged.bend_rate < rules.halved_share * judged.bend_early_rate as is_bend_halved,
    from int_lift_look__drawn as drawn
    cross join rules
    inner join int_client__logged as clients on drawn.client_id = clients.client_id
    left join phased_looks
        on
            drawn.client_id = phased_looks.client_id
            and drawn.exercise = phased_looks.exercise
            and drawn.week = phased_looks.week
    left join remembered as judged
        on
            drawn.client_id = judged.client_id
            and drawn.exercise = judged.exercise
            and drawn.week = judged.week
    where drawn.week > clients.last_on - 7 * rules.look_weeks
),

-- where the rate speaks, and what it says
decided as (
    select
        looks.*,
        case
            when looks.is_led then 'led'
            when looks.rate is null then 'too_little_data'
            when looks.is_regaining then 'regaining'
            when looks.is_falling then 'falling'
            when looks.is_stalled then 'stalled'
            when
                looks.course = 'curve'
                and looks.bend_gain > 0
                and looks.bend_rate < rules.useful_rate_pct
                then 'flattening'
            when
                looks.low > 0
                and looks.rate >= rules.useful_rate_pct
                and looks.course in ('curve', 'down')
                and looks.rate < rules.slowing_share * looks.early_rate
                then 'slowing'
            when
                looks.low > 0
                and looks.bend_gain >= rules.doubt_gain
                and looks.is_bend_halved
                then 'flattening'
            when looks.low > 0 then 'rising'
            else 'open'
        end as verdict,
    from looks
    cross join rules
),

named as (
    select
        *,
        case verdict
            when 'led' then null
            when 'too_little_data' then 'too_little_data'
            when 'falling'
                then case when has_unrecorded_record then 'unclear' else 'regressing' end
            when 'stalled'
                then
                    case
                        when is_cutting or has_unrecorded_record then 'unclear' else 'stalled'
                    end
            when 'slowing' then 'slowing'
            when 'rising' then 'progressing'
            else 'unclear'
        end as status,
        case verdict
            when 'led' then 'led'
            when 'regaining' then 'regaining'
            when 'flattening' then 'flattening'
            when 'falling' then case when has_unrecorded_record then 'new_record' end
            when 'stalled'
                then
                    case
                        when has_unrecorded_record then 'new_record'
                        when is_cutting then 'cut'
                        when not is_bent then 'no_progress'
                    end
        end as cause,
        -- where only the last weeks tell, the rate is theirs
        verdict = 'stalled' and flat_rate is not null as is_span_told,
        (high - low) / 2 / 1.959964 as rate_se,
    from decided
),

-- at an even pace of sessions the standard error falls with the window's length to the power 3/2
timed as (
    select
        named.*,
        greatest(
            abs(rate) / 1.959964,
            (rules.useful_rate_pct - rate) / rules.flat_z
        ) as telling_se,
        greatest(1, ceil(window_days / 7 * (pow(rate_se / telling_se, 2.0 / 3) - 1)))
            as weeks_more,
    from named
    cross join rules
)

select
    timed.client_id::varchar as client_id,
    timed.exercise::varchar as exercise,
    timed.week,
    coalesce(case when timed.is_span_told then timed.flat_sessions else timed.sessions end, 0)
        as sessions,
    case when timed.is_span_told then timed.flat_rate else timed.rate end as change_pct_per_week,
    case when timed.is_span_told then timed.flat_low else timed.low end as change_low,
    case when timed.is_span_told then timed.flat_high else timed.high end as change_high,
    timed.expected as expected_pct_per_week,
    timed.status,
    timed.cause,
    case when timed.is_span_told then 7 * timed.flat_weeks else timed.window_days end
        as window_days,
    case
        when
            timed.status = 'unclear'
            and timed.cause is null
            and timed.telling_se > 0
            and 7 * timed.weeks_more <= rules.trend_days_max
            then timed.weeks_more::integer
    end as weeks_until_clear,
    case when timed.status = 'stalled' then timed.flat_weeks end as flat_weeks,
    case timed.status
        when 'stalled' then timed.stall_p
        when 'regressing' then timed.fall_p
    end as flag_p,
    timed.bend_rate as end_pct_per_week,
    timed.noise as noise_pct,
    timed.correlation,
    timed.until_on as last_on,
from timed
cross join rules
