-- One row per change that is followed: noted by the coach, adopted from a finding, the first change
-- that was last sent, or a step in the training that nobody noted. It is followed until the next one
-- that was noted or adopted, rules.follow_days at most; what is compared with it goes back to the one
-- before, rules.trend_days at most. What was only sent ends nothing: nobody knows that it was done.
-- grain: client_id, changed_on, code, subject
-- client_id: the client
-- changed_on: first day of the changed training
-- code: the finding that it follows; empty: none
-- subject: what that is about; of a step the measure that shows it best; empty: the client as a whole
-- change: day, code and subject in one
-- origin: noted, adopted, sent or step
-- before_from: first day of what it is compared with
-- followed_until: last day on which it is followed, up to the last covered day
-- lifts_until: the same, up to the last logged day
-- ends_on: last day on which it can be followed
with changes as (
    select
        * exclude (is_of_lift),
        case when code = '' then 'noted' else 'adopted' end as origin,
    from stg_changes
    where not is_of_lift
),

sent as (
    select
        sent.*,
        'sent' as origin,
    from stg_sent as sent
    anti join changes
        on
            sent.client_id = changes.client_id
            and sent.code = changes.code
            and sent.subject = changes.subject
            and sent.changed_on <= changes.changed_on
),

-- of days around a change that somebody noted it is that change which is seen
steps as (
    select
        found.client_id,
        found.changed_on,
        '' as code,
        found.measure as subject,
        'step' as origin,
    from int_client_step__found as found
    cross join review.rules as rules
    anti join changes
        on
            found.client_id = changes.client_id
            and abs(found.changed_on - changes.changed_on) < rules.change_days
),

followed as (
    select *,
    from changes
    union all by name
    select *,
    from sent
    union all by name
    select *,
    from steps
),

bounded as (
    select
        followed.client_id,
        followed.changed_on,
        followed.code,
        followed.subject,
        followed.origin,
        max(changes.changed_on) filter (where changes.changed_on < followed.changed_on)
            as previous_on,
        min(changes.changed_on) filter (where changes.changed_on > followed.changed_on) as next_on,
    from followed
    left join changes on followed.client_id = changes.client_id
    group by all
)

select
    bounded.client_id,
    bounded.changed_on,
    bounded.code,
    bounded.subject,
    concat_ws(' ', bounded.changed_on, bounded.code, bounded.subject) as change,
    bounded.origin,
    greatest(
        bounded.changed_on - rules.trend_days, clients.first_on, bounded.previous_on
    ) as before_from,
    least(bounded.changed_on + rules.follow_days, bounded.next_on) - 1 as ends_on,
    least(ends_on, clients.covered_on) as followed_until,
    least(ends_on, clients.last_on) as lifts_until,
from bounded
cross join review.rules as rules
inner join int_client__logged as clients on bounded.client_id = clients.client_id
