-- One row per client and muscle most of whose sessions hold more direct hard sets than the guide's
-- high end, where the sets past it fade or a week's work is done in one day. Of a muscle that is hit
-- often sets are left out instead of spread.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: the muscle
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: the muscle alone
-- distance: distance of the share of large sessions from the threshold [standard errors]
-- sets_concerned: direct hard sets of a usual session [sets]
with hits as (
    select
        status.client_id,
        status.look_on,
        status.muscle,
        count(*) as sessions,
        count(*) filter (where muscle_day.direct_sets > status.session_high) as large_sessions,
        least(rules.usual_days, looks.look_on - looks.first_on + 1) / count(*) as hit_days,
    from int_muscle__stood as status
    cross join review.rules as rules
    inner join int_client__looked as looks
        on status.client_id = looks.client_id and status.look_on = looks.look_on
    inner join review.muscle_day as muscle_day
        on
            status.client_id = muscle_day.client_id
            and status.muscle = muscle_day.muscle
            and muscle_day.day > looks.look_on - rules.usual_days
            and muscle_day.day <= looks.look_on
    where muscle_day.direct_sets > 0
    group by
        status.client_id,
        status.look_on,
        status.muscle,
        rules.usual_days,
        looks.look_on,
        looks.first_on
),

late_ratios as (
    select
        pairs.client_id,
        looks.look_on,
        pairs.muscle,
        any_value(pairs.log_index) - avg(pairs.first_log_index) as log_ratio,
        case
            when any_value(pairs.is_recorded)
                then
                    any_value(pairs.log_index)
                    - avg(pairs.first_log_index) filter (where pairs.is_first_recorded)
        end as recorded_log_ratio,
    from int_muscle_set__paired as pairs
    inner join int_client_muscle__guided as guided
        on
            pairs.client_id = guided.client_id
            and pairs.muscle = guided.muscle
            and pairs.nth > guided.session_high
    inner join int_client__looked as looks
        on
            pairs.client_id = looks.client_id
            and greatest(pairs.day, pairs.first_day) <= looks.look_on
    group by
        pairs.client_id,
        looks.look_on,
        pairs.muscle,
        pairs.exercise,
        pairs.kind,
        pairs.nth,
        pairs.day
),

-- as in session_fade: recorded effort where there are sessions enough
late_sets as (
    select
        late_ratios.client_id,
        late_ratios.look_on,
        late_ratios.muscle,
        case
            when count(recorded_log_ratio) >= rules.fade_min_sessions
                then round(exp(avg(recorded_log_ratio)), 9)
            when count(*) >= rules.fade_min_sessions
                then round(exp(avg(log_ratio)), 9)
        end as late_output,
    from late_ratios
    cross join review.rules as rules
    group by
        late_ratios.client_id, late_ratios.look_on, late_ratios.muscle, rules.fade_min_sessions
),

measured as (
    select
        hits.client_id,
        hits.look_on,
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
    inner join int_muscle__stood as status
        on
            hits.client_id = status.client_id
            and hits.look_on = status.look_on
            and hits.muscle = status.muscle
    inner join stg_muscles as muscles on hits.muscle = muscles.muscle
    left join late_sets
        on
            hits.client_id = late_sets.client_id
            and hits.look_on = late_sets.look_on
            and hits.muscle = late_sets.muscle
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
    look_on,
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
