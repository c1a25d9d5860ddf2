-- One row per client and exercise: where the lift stands at the as-of day, and why in words with
-- numbers. The latest row of lift_trend, judged at the client's last logged day; of a lift that was
-- not trained in the weeks of lift_trend, since when not.
-- grain: client_id, exercise
-- client_id: the client
-- exercise: the exercise
-- week: Monday of the last week with the lift
-- sessions: sessions that the rate rests on [sessions]
-- change_pct_per_week: change a week; null: too little data [%/week]
-- change_low: lower end of its 95 % interval [%/week]
-- change_high: upper end of its 95 % interval [%/week]
-- expected_pct_per_week: what was to be expected [%/week]
-- best_e1rm: best estimated one-repetition maximum at the lift's present level [kg]
-- best_on: first day on which it was reached
-- weeks_since_best: whole weeks from then to the client's last logged day [weeks]
-- status: progressing, slowing, stalled, regressing, unclear or too_little_data; null: in pause or care
-- reason: why, in words with numbers
-- cause: regaining, cut, new_record, no_progress, flattening, led, not_trained or not_attempted; null:
-- the interval alone
-- window_days: days that the rate rests on [days]
-- weeks_until_clear: more weeks until the data would tell; null: they do, or not in 26 weeks
-- flat_weeks: weeks without progress of a lift that stalls; else null [weeks]
-- flag_p: probability of so much evidence by chance where it stalls or regresses; else null
-- noise_pct: standard deviation of sessions about their course [%]
-- last_on: last day with the lift
with rules as (
    select *,
    from review.rules
),

latest_trends as (
    select *,
    from review.lift_trend
    semi join config_scope on lift_trend.client_id = config_scope.client_id
    qualify row_number() over (partition by client_id, exercise order by week desc) = 1
),

latest_sessions as (
    select
        client_id,
        exercise,
        run_from,
        day as last_day,
        best_before,
        best_in_run,
    from int_lift_session__cleaned
    qualify row_number() over (partition by client_id, exercise order by day desc) = 1
),

level_sessions as (
    select
        levelled.client_id,
        levelled.exercise,
        levelled.day,
        sessions.e1rm,
        indexed.followed_reps,
        max(indexed.followed_reps) over (
            partition by levelled.client_id, levelled.exercise, levelled.level
            order by levelled.day
            rows between unbounded preceding and 1 preceding
        ) as followed_before,
    from int_lift_session__levelled as levelled
    inner join int_lift_session__indexed as indexed
        on
            levelled.client_id = indexed.client_id
            and levelled.exercise = indexed.exercise
            and levelled.day = indexed.day
    inner join int_lift_session__counted as sessions
        on
            levelled.client_id = sessions.client_id
            and levelled.exercise = sessions.exercise
            and levelled.day = sessions.day
    qualify
        levelled.level
        = max(levelled.level) over (partition by levelled.client_id, levelled.exercise)
),

bests as (
    select
        client_id,
        exercise,
        max(e1rm) as best_e1rm,
        arg_max(day, { 'e1rm': e1rm, 'earlier': -epoch(day) }) filter (where e1rm is not null)
            as best_on,
        coalesce(max(day) filter (where followed_reps > followed_before), min(day)) as exceeded_on,
    from level_sessions
    group by all
),

efforts as (
    select
        graded.client_id,
        graded.exercise,
        min(graded.rir_used) as least_rir,
    from review.graded_sets as graded
    cross join rules
    inner join latest_trends as trends
        on
            graded.client_id = trends.client_id
            and graded.exercise = trends.exercise
            and graded.performed_on > trends.last_on - least(trends.window_days, rules.trend_days)
    where graded.effort_basis = 'recorded'
    group by all
),

judged as (
    select
        sessions.client_id::varchar as client_id,
        sessions.exercise::varchar as exercise,
        trends.* exclude (client_id, exercise, week, sessions, status, cause),
        date_trunc('week', sessions.last_day)::date as week,
        coalesce(trends.sessions, 0) as sessions,
        sessions.last_day,
        sessions.run_from,
        sessions.best_before,
        sessions.best_in_run,
        bests.* exclude (client_id, exercise),
        (clients.last_on - bests.best_on) // 7 as weeks_since_best,
        stood.status,
        case
            when stood.decided_by is not null then stood.decided_by
            when trends.cause <> 'no_progress' then trends.cause
            when
                trends.status in ('stalled', 'unclear')
                and trends.last_on - bests.exceeded_on
                >= least(trends.window_days, rules.trend_days)
                and coalesce(efforts.least_rir, rules.hard_rir) >= rules.hard_rir
                then 'not_attempted'
            else trends.cause
        end as cause,
    from latest_sessions as sessions
    cross join rules
    inner join int_client__logged as clients on sessions.client_id = clients.client_id
    inner join int_lift__stood as stood
        on
            sessions.client_id = stood.client_id
            and sessions.exercise = stood.exercise
            and stood.is_last
    left join latest_trends as trends
        on sessions.client_id = trends.client_id and sessions.exercise = trends.exercise
    left join bests
        on sessions.client_id = bests.client_id and sessions.exercise = bests.exercise
    left join efforts
        on sessions.client_id = efforts.client_id and sessions.exercise = efforts.exercise
),

worded as (
    select
        judged.*,
        replace(
            replace(
                replace(
                    format(
                        '{:+.2f} % a week ({:+.2f} to {:+.2f}) over {} weeks',
                        change_pct_per_week,
                        change_low,
                        change_high,
                        round(window_days / 7)::integer
                    ),
                    '-',
                    '−'
                ),
                '+0.00',
                '0.00'
            ),
            '−0.00',
            '0.00'
        ) as rate_words,
        format('; {:.2f} % was to be expected', expected_pct_per_week) as expected_words,
        format('; {:.2f} % before', expected_pct_per_week) as earlier_words,
        case
            when weeks_until_clear = 1 then '; about 1 more week would tell'
            when weeks_until_clear > 1
                then format('; about {} more weeks would tell', weeks_until_clear)
            else '; too little movement for its noise, more weeks alone would not tell'
        end as wait_words,
    from judged
)

select
    worded.client_id,
    worded.exercise,
    worded.week,
    worded.sessions,
    worded.change_pct_per_week,
    worded.change_low,
    worded.change_high,
    worded.expected_pct_per_week,
    round(worded.best_e1rm, 9) as best_e1rm,
    worded.best_on,
    worded.weeks_since_best::integer as weeks_since_best,
    worded.status,
    case
        when worded.cause = 'led' then 'figures only: led by the client''s licensed professional'
        when worded.cause = 'not_trained' then format('not trained since {}', worded.last_day)
        when worded.status = 'too_little_data'
            then format(
                'too few sessions since {}: {} are needed over {} weeks',
                worded.run_from,
                rules.trend_min_sessions,
                rules.trend_min_days // 7
            )
        when worded.cause = 'regaining'
            then format(
                'regaining: begun anew on {}, {:.1f} % under the best before',
                worded.run_from,
                100 * (1 - worded.best_in_run / worded.best_before)
            )
        when worded.cause = 'cut' then 'in a cut, holding strength is success: ' || rate_words
        when worded.cause = 'new_record'
            then
                'new records within four weeks speak against the line, and effort is not recorded: '
                || rate_words
        when worded.cause = 'not_attempted'
            then
                'not attempted: load × reps never above an earlier best, with effort unrecorded or'
                || format(' {:.0f} and more in reserve; one more rep would show: ', rules.hard_rir)
                || rate_words
        when worded.cause = 'flattening'
            then
                'rising over all, but perhaps not in the latest weeks: '
                || rate_words
                || expected_words
        when worded.status = 'regressing' then 'falling: ' || rate_words
        when worded.status = 'progressing' then 'rising: ' || rate_words
        when worded.status = 'slowing'
            then 'rising, more slowly than before: ' || rate_words || earlier_words
        when worded.cause = 'no_progress'
            then format('no progress for {} weeks: ', flat_weeks) || rate_words
        when worded.status = 'stalled' then 'flat: ' || rate_words || expected_words
        when worded.status = 'unclear'
            then 'may be rising or flat: ' || rate_words || expected_words || wait_words
    end as reason,
    worded.cause,
    worded.window_days,
    worded.weeks_until_clear,
    worded.flat_weeks,
    worded.flag_p,
    worded.noise_pct,
    worded.last_day as last_on,
from worded
cross join rules
