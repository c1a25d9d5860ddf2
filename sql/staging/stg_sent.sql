-- One row per client to whom a first change was sent by mail, up to the as-of day: the last one, and
-- since when it was the same one in each mail.
-- grain: client_id
-- client_id: the client
-- changed_on: day of the first of these mails
-- code: the finding
-- subject: what it is about; empty: the client as a whole
with mails as (
    select
        mails.client_id,
        mails.at_moment,
        mails.code,
        mails.subject,
        last_value(mails.code) over by_time = mails.code
        and last_value(mails.subject) over by_time = mails.subject as is_last_one,
    from ledger.mails as mails
    cross join review.run as run
    semi join config_scope on mails.client_id = config_scope.client_id
    where mails.state = 'sent' and mails.code <> '' and mails.at_moment::date <= run.as_of
    window by_time as (
        partition by mails.client_id
        order by mails.at_moment
        rows between unbounded preceding and unbounded following
    )
),

others as (
    select
        client_id,
        max(at_moment) as other_at,
    from mails
    where not is_last_one
    group by all
)

select
    mails.client_id,
    min(mails.at_moment)::date as changed_on,
    any_value(mails.code) as code,
    any_value(mails.subject) as subject,
from mails
left join others on mails.client_id = others.client_id
where mails.at_moment > coalesce(others.other_at, '-infinity'::timestamp)
group by mails.client_id
