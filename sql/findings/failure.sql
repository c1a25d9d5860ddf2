-- One row per client most of whose recorded compound sets end with nothing in reserve. What goes on
-- beyond failure is taken out before failure itself.
-- grain: client_id, look_on, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- look_on: the look
-- subject: empty: the client as a whole
-- severity: distance from the threshold, as a share of it
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles concerned; null: all
-- waits_for: the finding that comes before it
with counts as (
    select
        client_id,
        look_on,
        count(*) as work_sets,
        count(whole_rir) as recorded_sets,
        count(*) filter (where whole_rir <= 0) as failed_sets,
    from int_set__recent
    where movement = 'compound'
    group by all
),

shares as (
    select
        counts.*,
        counts.failed_sets / nullif(counts.recorded_sets, 0) as failed_share,
        counts.recorded_sets / counts.work_sets as recorded_share,
    from counts
),

concerned as (
    select
        recent.client_id,
        recent.look_on,
        list(distinct exercise_muscles.muscle order by exercise_muscles.muscle) as muscles,
    from int_set__recent as recent
    inner join review.exercise_muscles as exercise_muscles
        on recent.exercise = exercise_muscles.exercise
    where
        recent.movement = 'compound'
        and recent.whole_rir <= 0
        and exercise_muscles.role = 'direct'
    group by all
)

select
    'failure' as code,
    6 as lever,
    shares.client_id::varchar as client_id,
    shares.look_on,
    '' as subject,
    round(shares.failed_share / rules.failure_share - 1, 9) as severity,
    json_object(
        'failed_share', round(shares.failed_share, 9),
        'failed_sets', shares.failed_sets,
        'recorded_sets', shares.recorded_sets,
        'recorded_share', round(shares.recorded_share, 9)
    ) as evidence,
    'Stop the first sets of each compound lift one repetition short of failure; '
    || 'only its last set may go all the way.' as suggestion,
    concerned.muscles,
    'extension' as waits_for,
from shares
cross join review.rules as rules
inner join concerned
    on shares.client_id = concerned.client_id and shares.look_on = concerned.look_on
where
    shares.recorded_sets >= rules.share_min_sets
    and shares.recorded_share >= rules.effort_recorded_share
    and shares.failed_share > rules.failure_share
