-- One row per change that is followed: whether it was done, by the measure of the finding that it
-- follows. Half the step that findings ask for is enough; before rules.change_days are over, too
-- little is no answer yet.
-- grain: client_id, change
-- client_id: the client
-- change: see int_change__followed
-- done_by: what was measured, see int_change_side__measured; null: nothing can
-- measure_before: over the four weeks before
-- measure_since: over the last four weeks in which it is followed
-- measure_now: over the last four weeks
-- direction: 1: more of it was asked for; −1: less; 0: another amount
-- least_move: what is enough
-- is_done: null: not measurable, or too early
with ways as (
    -- how much is enough: a share, sets, or days a week
    select *,
    from (
        values
        ('attendance', null, 'weekly_sessions', 1, 'days'),
        ('extension', null, 'extended_share', -1, 'share'),
        ('failure', null, 'failure_share', -1, 'share'),
        ('rest', null, 'weekly_rest_days', 1, 'days'),
        ('session_size', null, 'sets_per_session', -1, 'sets'),
        ('effort', null, 'easy_share', -1, 'share'),
        ('volume', null, 'weekly_sets', null, 'sets'),
        ('priority', null, 'weekly_sets', -1, 'sets'),
        ('overlap', null, 'weekly_sets', -1, 'sets'),
        ('absent', null, 'weekly_sets', 1, 'sets'),
        ('turnover', null, 'kept_share', 1, 'share'),
        ('log', 'assumed_effort', 'recorded_share', 1, 'share'),
        ('unclear', 'effort', 'recorded_share', 1, 'share'),
        ('unclear', 'attendance', 'weekly_sessions', 1, 'days'),
        ('take_back', 'weekly_hard_sets', 'weekly_hard_sets', 0, 'sets'),
        ('take_back', 'weekly_sessions', 'weekly_sessions', 0, 'days'),
        ('take_back', 'failure_share', 'failure_share', 0, 'share'),
        ('take_back', 'extended_share', 'extended_share', 0, 'share')
    ) as given (code, subject, measure, direction, unit)
),

measured as (
    select
        followed.client_id,
        followed.change,
        followed.changed_on,
        followed.subject,
        ways.measure as done_by,
        ways.direction,
        ways.unit,
        max(sides.amount) filter (where sides.side = 'before') as measure_before,
        max(sides.amount) filter (where sides.side = 'since') as measure_since,
        max(sides.amount) filter (where sides.side = 'now') as measure_now,
        max(sides.days) filter (where sides.side = 'before') as days_before,
        max(sides.days) filter (where sides.side = 'since') as days_since,
    from int_change__followed as followed
    inner join ways
        on
            followed.code = ways.code
            and followed.subject = coalesce(ways.subject, followed.subject)
    left join int_change_side__measured as sides
        on
            followed.client_id = sides.client_id
            and followed.change = sides.change
            and ways.measure = sides.measure
    group by all
),

moved as (
    select
        measured.*,
        -- of a muscle outside its guide: towards it
        coalesce(
            measured.direction,
            case
                when
                    measured.measure_before
                    > (coalesce(guides.guide_low, 0) + guides.guide_high) / 2
                    then -1
                else 1
            end
        ) as towards,
        case measured.unit
            when 'share' then rules.done_share
            when 'days' then rules.done_days
            else rules.volume_step / 2
        end as least_move,
        measured.measure_since - measured.measure_before as move,
        measured.days_before >= rules.change_min_days
        and measured.days_since >= rules.change_min_days as is_measured,
        measured.days_since >= rules.change_days as is_over,
        case when towards = 0 then abs(move) else towards * move end
        >= least_move - 1e-9 as is_moved,
    from measured
    cross join review.rules as rules
    left join int_client_muscle__guided as guides
        on measured.client_id = guides.client_id and measured.subject = guides.muscle
)

select
    client_id,
    change,
    done_by,
    measure_before,
    measure_since,
    measure_now,
    towards as direction,
    least_move,
    case
        when is_measured and is_moved then true
        when is_measured and is_over then is_moved
    end as is_done,
from moved
