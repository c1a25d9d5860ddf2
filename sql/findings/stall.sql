-- One row per client and lift that stalls or regresses, now and rules.stall_apart_days ago, or
-- together with another lift of one of its muscles. Of many lifts some are flagged by chance: how many
-- is part of the evidence.
-- grain: client_id, subject
-- code: name of the finding
-- lever: place in the order of what to change first
-- client_id: the client
-- subject: the lift
-- severity: distance from the expected rate [%/week]
-- evidence: the numbers it rests on
-- suggestion: one small step
-- muscles: muscles that the lift trains directly
with lifts as (
    select
        watched.client_id::varchar as client_id,
        watched.exercise::varchar as exercise,
        watched.muscles,
        status.status,
        status.cause,
        status.week,
        status.change_pct_per_week,
        status.expected_pct_per_week,
        status.weeks_since_best,
    from int_lift__watched as watched
    inner join review.lift_status as status
        on watched.client_id = status.client_id and watched.exercise = status.exercise
    where watched.needs_look
),

earlier_looks as (
    select
        lifts.client_id,
        lifts.exercise,
        trends.week,
        trends.status,
    from lifts
    cross join review.rules as rules
    inner join review.lift_trend as trends
        on
            lifts.client_id = trends.client_id
            and lifts.exercise = trends.exercise
            and trends.week between lifts.week - rules.stall_apart_days - rules.not_trained_days
            and lifts.week - rules.stall_apart_days
    qualify
        row_number() over (
            partition by lifts.client_id, lifts.exercise
            order by trends.week desc
        ) = 1
),

others as (
    select
        lifts.client_id,
        lifts.exercise,
        list(companions.exercise order by companions.exercise) as exercises,
    from lifts
    inner join lifts as companions
        on
            lifts.client_id = companions.client_id
            and lifts.exercise <> companions.exercise
            and list_has_any(lifts.muscles, companions.muscles)
    group by all
),

judged_lifts as (
    select
        client_id,
        count(*) as lifts,
        count(*) filter (where needs_look) as flagged_lifts,
    from int_lift__watched
    where has_status
    group by all
)

select
    'stall' as code,
    14 as lever,
    lifts.client_id,
    lifts.exercise as subject,
    round(greatest(lifts.expected_pct_per_week - lifts.change_pct_per_week, 0), 9) as severity,
    json_object(
        'status', lifts.status,
        'change_a_week_pct', lifts.change_pct_per_week,
        'expected_a_week_pct', lifts.expected_pct_per_week,
        'weeks_since_best', lifts.weeks_since_best,
        'status_before', earlier_looks.status,
        'weeks_apart', (lifts.week - earlier_looks.week) // 7,
        'other_lifts', others.exercises,
        'judged_lifts', judged_lifts.lifts,
        'flagged_lifts', judged_lifts.flagged_lifts,
        'flags_by_chance', round(rules.false_alarm_share * judged_lifts.lifts, 9)
    ) as evidence,
    case
        when lifts.cause = 'not_attempted'
            then 'Try one more repetition with the same load in the next session.'
        when lifts.status = 'regressing'
            then 'Take the loads about 5 % lower for two weeks and build up from there.'
        else 'Keep the load and try for one more repetition in the first set of each session.'
    end as suggestion,
    lifts.muscles,
from lifts
cross join review.rules as rules
inner join judged_lifts on lifts.client_id = judged_lifts.client_id
left join earlier_looks
    on lifts.client_id = earlier_looks.client_id and lifts.exercise = earlier_looks.exercise
left join others
    on lifts.client_id = others.client_id and lifts.exercise = others.exercise
where earlier_looks.status in ('stalled', 'regressing') or others.exercises is not null
