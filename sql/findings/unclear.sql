-- One row per client of whom neither progress nor a stall can be shown: what would let the log tell,
-- the effort noted, or coming as planned; else to keep going, with the day of the next look. It is
-- raised where the lifts did not progress at a look of the last rules.stay_days either, and is the first
-- change where nothing else is; who changes exercises too often is told so by turnover.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: effort, attendance or wait
-- severity: 0: there is no degree of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
with efforts as (
    select
        client_id::varchar as client_id,
        look_on,
        count(*) as work_sets,
        count(whole_rir) as recorded_sets,
        count(whole_rir) / count(*) as recorded_share,
    from int_set__recent
    group by all
),

gaps as (
    select
        days.client_id::varchar as client_id,
        spans.look_on,
        max(days.day - days.previous_day) as longest_gap_days,
        count(*) as sessions,
    from int_client_day__counted as days
    inner join int_client__spanned as spans
        on
            days.client_id = spans.client_id
            and spans.span = 'current'
            and days.day between spans.from_on and spans.to_on
            and days.previous_day >= spans.from_on
    group by all
),

measured as (
    select
        progress.client_id,
        progress.look_on,
        progress.lifts,
        progress.rising_lifts,
        coalesce(efforts.work_sets, 0) as work_sets,
        coalesce(efforts.recorded_sets, 0) as recorded_sets,
        coalesce(efforts.recorded_share, 1) as recorded_share,
        gaps.longest_gap_days,
        progress.look_on + 7 * least(
            coalesce(progress.weeks_until_clear, rules.look_again_weeks), rules.look_again_weeks_max
        )::integer as look_again_on,
        case
            when efforts.recorded_share < rules.noted_share_min then 'effort'
            when gaps.longest_gap_days >= rules.standing_gap_days then 'attendance'
            else 'wait'
        end as subject,
    from int_client__progress as progress
    cross join review.rules as rules
    left join efforts
        on progress.client_id = efforts.client_id and progress.look_on = efforts.look_on
    left join gaps on progress.client_id = gaps.client_id and progress.look_on = gaps.look_on
    qualify
        not bool_or(progress.is_working) over (
            partition by progress.client_id
            order by progress.look_on
            range between to_days(rules.stay_days - 1) preceding and current row
        )
)

select
    'unclear' as code,
    16 as lever,
    client_id,
    look_on,
    subject,
    0.0::double as severity,
    json_object(
        'asks_for', subject,
        'judged_lifts', lifts,
        'rising_lifts', rising_lifts,
        'recorded_share', case when subject = 'effort' then round(recorded_share, 9) end,
        'recorded_sets', case when subject = 'effort' then recorded_sets end,
        'work_sets', case when subject = 'effort' then work_sets end,
        'longest_gap_days', case when subject = 'attendance' then longest_gap_days end,
        'look_again_on', look_again_on
    ) as evidence,
    case subject
        when 'effort'
            then 'Note after each set how many more repetitions you could have done.'
        when 'attendance' then 'Come on the days that are planned, for the next four weeks.'
        else 'Keep going as it is.'
    end as suggestion,
    null::varchar[] as muscles,
from measured
