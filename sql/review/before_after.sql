-- One row per noted change and measure: four weeks before beside four weeks after, counted from the
-- day of the change. A difference is usual variation if it is no larger than rules.change_spread
-- times the root mean square of the differences between neighbouring four-week spans of the half
-- year before the change, a pair ending each week. Our own rule; its false alarms are measured in
-- tests/simulation/. Rates go by the days that are logged so far, deload days left out.
-- grain: client_id, changed_on, measure
-- client_id: the client
-- changed_on: first day of the changed training
-- measure: weekly_hard_sets, weekly_sessions, weekly_rest_days, hard_sets_per_session,
-- weekly_sets_legs and the other body parts (direct hard sets), recorded_share, failure_share and
-- easy_share (0 RIR, 4 or more, of recorded sets), extended_share (of hard sets), lift_level (mean
-- strength index of the lifts of both spans, before = 100)
-- before: the four weeks before; null: under rules.change_min_days, or nothing to measure
-- after: the four weeks from the change on
-- difference: after − before
-- is_usual_variation: whether four-week spans of this client usually differ as much; null: a span is
-- not complete, a phase of pause or care falls into one, or too little history
-- usual_difference: largest difference that is usual variation; null: too little history
-- days_before: days that before rests on [days]
-- days_after: days that after rests on [days]
-- other_changes: other noted changes whose four weeks overlap these, so that the figures cannot tell
-- them apart [changes]
with pairs as (
    select
        later.client_id,
        later.changed_on,
        later.nth,
        earlier.nth as earlier_nth,
        earlier.days as days_before,
        later.days as days_after,
        earlier.is_whole
        and later.is_whole
        and not earlier.is_led
        and not later.is_led
        and least(earlier.days, later.days) >= rules.change_min_days as is_comparable,
    from int_change__spanned as later
    cross join review.rules as rules
    inner join int_change__spanned as earlier
        on
            later.client_id = earlier.client_id
            and later.changed_on = earlier.changed_on
            and later.from_on = earlier.to_on + 1
),

measures as (
    select distinct
        client_id,
        changed_on,
        measure,
    from int_change_span__measured
),

compared as (
    select
        pairs.client_id,
        pairs.changed_on,
        pairs.nth,
        pairs.is_comparable,
        measures.measure,
        earlier.amount as before,
        later.amount as after,
    from pairs
    inner join measures
        on pairs.client_id = measures.client_id and pairs.changed_on = measures.changed_on
    left join int_change_span__measured as earlier
        on
            pairs.client_id = earlier.client_id
            and pairs.changed_on = earlier.changed_on
            and pairs.earlier_nth = earlier.nth
            and measures.measure = earlier.measure
    left join int_change_span__measured as later
        on
            pairs.client_id = later.client_id
            and pairs.changed_on = later.changed_on
            and pairs.nth = later.nth
            and measures.measure = later.measure
    union all by name
    select
        pairs.client_id,
        pairs.changed_on,
        pairs.nth,
        pairs.is_comparable,
        'lift_level' as measure,
        100 as before,
        100 + lifted.change_pct as after,
    from pairs
    cross join review.rules as rules
    inner join int_change_pair__lifted as lifted
        on
            pairs.client_id = lifted.client_id
            and pairs.changed_on = lifted.changed_on
            and pairs.nth = lifted.nth
    where least(pairs.days_before, pairs.days_after) >= rules.change_min_days
),

usual as (
    select
        compared.client_id,
        compared.changed_on,
        compared.measure,
        sqrt(avg(pow(compared.after - compared.before, 2))) * rules.change_spread as reach,
    from compared
    cross join review.rules as rules
    where
        compared.nth > 0
        and compared.is_comparable
        and compared.before is not null
        and compared.after is not null
    group by
        compared.client_id,
        compared.changed_on,
        compared.measure,
        rules.change_spread,
        rules.change_min_pairs
    having count(*) >= rules.change_min_pairs
),

other_changes as (
    select
        changes.client_id,
        changes.changed_on,
        count(distinct others.changed_on) as other_changes,
    from stg_changes as changes
    cross join review.rules as rules
    inner join stg_changes as others
        on
            changes.client_id = others.client_id
            and changes.changed_on <> others.changed_on
            and abs(changes.changed_on - others.changed_on) < rules.change_days
    group by all
)

select
    compared.client_id::varchar as client_id,
    compared.changed_on,
    compared.measure,
    compared.before,
    round(compared.after, 9) as after,
    round(compared.after - compared.before, 9) as difference,
    case
        when compared.is_comparable
            then abs(compared.after - compared.before) <= usual.reach + 1e-9
    end as is_usual_variation,
    round(usual.reach, 9) as usual_difference,
    pairs.days_before,
    pairs.days_after,
    coalesce(other_changes.other_changes, 0) as other_changes,
from compared
inner join pairs
    on
        compared.client_id = pairs.client_id
        and compared.changed_on = pairs.changed_on
        and compared.nth = pairs.nth
left join usual
    on
        compared.client_id = usual.client_id
        and compared.changed_on = usual.changed_on
        and compared.measure = usual.measure
left join other_changes
    on
        compared.client_id = other_changes.client_id
        and compared.changed_on = other_changes.changed_on
-- what was zero before and after is no news
where
    compared.nth = 0
    and (coalesce(compared.before, 0) <> 0 or coalesce(compared.after, 0) <> 0)
