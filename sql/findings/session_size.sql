-- One row per client and muscle most of whose sessions hold more direct hard sets than the guide's
-- high end, where the sets past it fade or a week's work is done in one day. Of a muscle that is hit
-- often sets are left out instead of spread.
-- grain: client_id, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- subject: the muscle
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: the muscle alone
-- distance: distance of the share of large sessions from the threshold [standard errors]
-- sets_concerned: direct hard sets of a usual session [sets]
with hits as (
    select
        muscle_day.client_id,
        muscle_day.muscle,
        count(*) as sessions,
        count(*) filter (where muscle_day.direct_sets > status.session_high) as large_sessions,
        least(rules.usual_days, clients.covered_on - clients.first_on + 1) / count(*) as hit_days,
    from review.muscle_day as muscle_day
    cross join review.rules as rules
    inner join review.muscle_status as status
        on muscle_day.client_id = status.client_id and muscle_day.muscle = status.muscle
    inner join int_client__logged as clients on muscle_day.client_id = clients.client_id
    where
        muscle_day.direct_sets > 0
        and muscle_day.day > clients.covered_on - rules.usual_days
    group by
        muscle_day.client_id,
        muscle_day.muscle,
        rules.usual_days,
        clients.covered_on,
        clients.first_on
),

late_sums as (
    select
        compared.client_id,
        compared.muscle,
        sum(compared.pairs)::bigint as pairs,
        sum(compared.pairs * compared.log_mean) / sum(compared.pairs) as log_mean,
        sum(compared.recorded_pairs)::bigint as recorded_pairs,
        sum(compared.recorded_pairs * compared.recorded_log_mean)
        / nullif(sum(compared.recorded_pairs), 0) as recorded_log_mean,
    from int_muscle_nth__compared as compared
    inner join review.muscle_status as status
        on compared.client_id = status.client_id and compared.muscle = status.muscle
    where compared.nth > status.session_high
    group by all
),

-- as in session_fade: recorded effort where there are sessions enough
late_sets as (
    select
        late_sums.client_id,
        late_sums.muscle,
        case
            when late_sums.recorded_pairs >= rules.fade_min_sessions
                then round(exp(late_sums.recorded_log_mean), 9)
            when late_sums.pairs >= rules.fade_min_sessions
                then round(exp(late_sums.log_mean), 9)
        end as late_output,
    from late_sums
    cross join review.rules as rules
),

measured as (
    select
        hits.client_id,
        hits.muscle,
        lower(muscles.label) as label,
        hits.sessions,
        hits.large_sessions,
        (hits.large_sessions / hits.sessions - rules.large_share)
        / sqrt(rules.large_share * (1 - rules.large_share) / hits.sessions) as distance,
        hits.hit_days,
        status.session_high,
        status.median_sets_per_hit,
        status.median_gap_days,
        late_sets.late_output,
        coalesce(late_sets.late_output < rules.late_output, false) as is_fading,
        coalesce(status.median_gap_days > rules.crammed_gap_days, false) as is_crammed,
        coalesce(status.median_gap_days <= rules.frequent_gap_days, false) as is_frequent,
        rules.volume_step,
    from hits
    cross join review.rules as rules
    inner join review.muscle_status as status
        on hits.client_id = status.client_id and hits.muscle = status.muscle
    inner join stg_muscles as muscles on hits.muscle = muscles.muscle
    left join late_sets
        on hits.client_id = late_sets.client_id and hits.muscle = late_sets.muscle
    where hits.large_sessions > rules.large_share * hits.sessions
),

changed as (
    select
        measured.*,
        rates.*,
    from measured,
        changed_rate(
            measured.median_sets_per_hit,
            measured.hit_days,
            sets_added := case when measured.is_frequent then -measured.volume_step else 0 end,
            split_over := case when measured.is_frequent then 1 else 2 end
        ) as rates
    where measured.is_fading or measured.is_crammed
)

select
    'session_size' as code,
    8 as lever,
    client_id::varchar as client_id,
    muscle as subject,
    round(median_sets_per_hit / session_high - 1, 9) as severity,
    json_object(
        'sets_per_session', round(median_sets_per_hit, 9),
        'sessions_above_guide', large_sessions,
        'sessions', sessions,
        'guide_session_high_sets', session_high,
        'usual_gap_days', round(median_gap_days, 9),
        'late_output_share', late_output,
        'arithmetic', format(
            '{:g} sets every {:g} days are {:g} a week; {:g} every {:g} days are {:g}',
            round(sets_per_hit_before, 1),
            round(days_between_before, 1),
            round(weekly_rate_before, 1),
            round(sets_per_hit_after, 1),
            round(days_between_after, 1),
            round(weekly_rate_after, 1)
        )
    ) as evidence,
    case
        when is_frequent
            then format('Leave out the last {:g} sets for {} in each session.', volume_step, label)
        else format('Spread the sets for {} over two days.', label)
    end as suggestion,
    [muscle] as muscles,
    round(distance, 6) as distance,
    median_sets_per_hit as sets_concerned,
from changed
