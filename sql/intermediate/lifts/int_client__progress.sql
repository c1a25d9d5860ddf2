-- One row per client and look: what the lifts show, taken together. Where they progress there is nothing to
-- change; where neither progress nor a stall can be shown, what would let the log tell comes first.
-- grain: client_id, look_on
-- client_id: the client
-- look_on: the look
-- lifts: lifts with a status [lifts]
-- rising_lifts: those that progress, be it more slowly than before [lifts]
-- is_working: whether at least rules.working_share of them rise and none regresses; in a cut, where
-- holding strength is success, whether none regresses
-- flagged_muscles: muscles of trackable lifts that stall or regress on evidence rarer than chance
-- flagged_lifts: lifts that stall or regress on such evidence, trackable or not [lifts]
-- is_heavy: whether the work is one of strength: the median compound work set of the weekly rate's
-- span has rules.heavy_reps_max repetitions or fewer
-- weeks_until_clear: weeks until the first of the unclear lifts would tell; null: not known [weeks]
with lifts as (
    select
        *,
        needs_look and is_beyond_chance as is_flagged,
    from int_lift__watched
),

counts as (
    select
        client_id,
        look_on,
        count(*) filter (where has_status) as lifts,
        count(*) filter (where status in ('progressing', 'slowing')) as rising_lifts,
        count(*) filter (where status = 'regressing') as regressing_lifts,
        flatten(list(muscles) filter (where is_flagged and is_trackable)) as flagged_muscles,
        count(*) filter (where is_flagged) as flagged_lifts,
        min(weeks_until_clear) filter (where status = 'unclear') as weeks_until_clear,
    from lifts
    group by all
),

repetitions as (
    select
        client_id,
        look_on,
        median(reps) as usual_reps,
    from int_set__recent
    where movement = 'compound'
    group by all
)

select
    looks.client_id::varchar as client_id,
    looks.look_on,
    coalesce(counts.lifts, 0) as lifts,
    coalesce(counts.rising_lifts, 0) as rising_lifts,
    coalesce(
        counts.lifts > 0
        and counts.regressing_lifts = 0
        and (
            looks.is_cutting or counts.rising_lifts >= rules.working_share * counts.lifts
        ),
        false
    ) as is_working,
    coalesce(counts.flagged_muscles, []) as flagged_muscles,
    coalesce(counts.flagged_lifts, 0) as flagged_lifts,
    coalesce(repetitions.usual_reps <= rules.heavy_reps_max, false) as is_heavy,
    counts.weeks_until_clear,
from int_client__looked as looks
cross join review.rules as rules
left join counts on looks.client_id = counts.client_id and looks.look_on = counts.look_on
left join repetitions
    on looks.client_id = repetitions.client_id and looks.look_on = repetitions.look_on
