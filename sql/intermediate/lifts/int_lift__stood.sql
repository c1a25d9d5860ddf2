-- One row per client, look and exercise done before it: where the lift stands, the last row of lift_trend
-- up to the look.
-- grain: client_id, look_on, exercise
-- client_id: the client
-- look_on: the look
-- exercise: the exercise
-- is_last: whether it is the client's last look
-- last_day: last day with the lift
-- status: progressing, slowing, stalled, regressing, unclear or too_little_data; null: in pause or care
-- has_status: whether the trend was judged: progressing, slowing, stalled, regressing or unclear
-- needs_look: whether it stalls or regresses
-- decided_by: led, not_trained or cut, where the trend alone does not decide; else null
-- change_pct_per_week: change a week; null: too little data [%/week]
-- expected_pct_per_week: what was to be expected [%/week]
-- flat_weeks: weeks without progress of a lift that stalls; else null [weeks]
-- flag_p: probability of so much evidence by chance where the trend stalls or regresses
-- weeks_until_clear: more weeks until the data would tell; null: they do, or it is not known [weeks]
with trends as (
    select *,
    from review.lift_trend
    semi join config_scope on lift_trend.client_id = config_scope.client_id
),

exercises as (
    select distinct
        client_id,
        exercise,
    from int_lift_session__cleaned
),

lifts as (
    select
        looks.client_id,
        looks.look_on,
        looks.is_last,
        exercises.exercise,
        sessions.day as last_day,
        looks.is_led,
        looks.is_cutting,
        looks.last_on - sessions.day as days_without,
    from int_client__looked as looks
    inner join exercises on looks.client_id = exercises.client_id
    asof inner join int_lift_session__cleaned as sessions
        on
            exercises.client_id = sessions.client_id
            and exercises.exercise = sessions.exercise
            and looks.look_on >= sessions.day
),

judged as (
    select
        lifts.*,
        case
            when lifts.is_led then 'led'
            when lifts.days_without >= rules.not_trained_days then 'not_trained'
            when lifts.is_cutting and trends.status = 'stalled' then 'cut'
        end as decided_by,
        case decided_by
            when 'led' then null
            when 'not_trained' then 'too_little_data'
            when 'cut' then 'unclear'
            else case when trends.week is null then 'too_little_data' else trends.status end
        end as status,
        trends.change_pct_per_week,
        trends.expected_pct_per_week,
        trends.flat_weeks,
        trends.flag_p,
        trends.weeks_until_clear,
    from lifts
    cross join review.rules as rules
    asof left join trends
        on
            lifts.client_id = trends.client_id
            and lifts.exercise = trends.exercise
            and lifts.look_on >= trends.week
)

select
    client_id,
    look_on,
    exercise,
    is_last,
    last_day,
    status,
    coalesce(status in ('progressing', 'slowing', 'stalled', 'regressing', 'unclear'), false)
        as has_status,
    coalesce(status in ('stalled', 'regressing'), false) as needs_look,
    decided_by,
    change_pct_per_week,
    expected_pct_per_week,
    flat_weeks,
    flag_p,
    weeks_until_clear,
from judged
