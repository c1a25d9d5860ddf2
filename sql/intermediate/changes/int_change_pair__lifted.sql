-- One row per noted change and pair of neighbouring four-week spans: how far the lifts moved from the
-- one to the other. The mean over lifts of the difference of mean log strength index, light and
-- suspect sets left out; of a lift only what is alike is compared: sessions of one run, in one band
-- of repetitions, rules.change_min_sessions in each span.
-- grain: client_id, changed_on, nth
-- client_id: the client
-- changed_on: first day of the changed training
-- nth: the later span of the pair, see int_change__spanned
-- lifts: lifts compared [lifts]
-- change_pct: mean difference [%]
with sessions as (
    select
        cleaned.client_id,
        cleaned.exercise,
        cleaned.day,
        cleaned.run,
        cleaned.band,
        cleaned.log_value,
    from int_lift_session__cleaned as cleaned
    anti join stg_phases as phases
        on
            cleaned.client_id = phases.client_id
            and phases.kind = 'deload'
            and cleaned.day between phases.from_on and phases.to_on
    where cleaned.log_value is not null
),

levels as (
    select
        spans.client_id,
        spans.changed_on,
        spans.nth,
        spans.from_on,
        spans.to_on,
        sessions.exercise,
        sessions.run,
        sessions.band,
        avg(sessions.log_value) as log_level,
    from int_change__spanned as spans
    cross join review.rules as rules
    inner join sessions
        on
            spans.client_id = sessions.client_id
            and sessions.day between spans.from_on and spans.to_on
    group by all
    having count(*) >= any_value(rules.change_min_sessions)
),

lifts as (
    select
        later.client_id,
        later.changed_on,
        later.nth,
        later.exercise,
        avg(later.log_level - earlier.log_level) as log_change,
    from levels as later
    inner join levels as earlier
        on
            later.client_id = earlier.client_id
            and later.changed_on = earlier.changed_on
            and later.from_on = earlier.to_on + 1
            and later.exercise = earlier.exercise
            and later.run = earlier.run
            and later.band = earlier.band
    group by all
)

select
    client_id,
    changed_on,
    nth,
    count(*) as lifts,
    round(100 * (exp(avg(log_change) / 100) - 1), 9) as change_pct,
from lifts
group by all
