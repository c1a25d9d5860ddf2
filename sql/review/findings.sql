-- One row per client and finding: what stands out, and which one thing to change first. Health and
-- data come first, then pulling back, then adding; one change at a time. The order and the silences
-- are our own rule. The first change stays from look to look while it is true, and a little longer;
-- one that is no longer true is told with the day on which it last was.
-- grain: client_id, code, subject
-- client_id: the client
-- code: name of the finding
-- subject: muscle, lift or fault that it is about; empty: the client as a whole
-- lever: place in the order of what to change first, from 1
-- severity: distance from its threshold; comparable within one code
-- evidence: the numbers it rests on, units in the names; arithmetic: that of the step (JSON)
-- suggestion: one small step; null: nothing is suggested, in care or pause
-- is_noticed: whether the page names it; of muscles outside the guide one at a time
-- is_first_change: whether it is the one thing to change first, at most one a client
-- is_waived: whether the coach put it aside: it is neither noticed nor first, and bars what it bars
with firsts as (
    select followed.*,
    from int_client__followed as followed
    inner join int_client__looked as looks
        on
            followed.client_id = looks.client_id
            and followed.look_on = looks.look_on
            and looks.is_last
),

-- those of the last look, and a first change that was last raised before it
raised as (
    select
        weighed.*,
        firsts.code is not null as is_first_change,
        looks.is_last,
    from int_finding__weighed as weighed
    inner join int_client__looked as looks
        on weighed.client_id = looks.client_id and weighed.look_on = looks.look_on
    left join firsts
        on
            weighed.client_id = firsts.client_id
            and weighed.code = firsts.code
            and weighed.subject = firsts.subject
    where looks.is_last or (is_first_change and weighed.look_on = firsts.true_on)
    qualify
        row_number() over (
            partition by weighed.client_id, weighed.code, weighed.subject
            order by weighed.look_on desc
        ) = 1
),

closed as (
    select client_id,
    from firsts
    where code = 'strength_drop'
)

select
    raised.client_id,
    raised.code,
    raised.subject,
    raised.lever,
    raised.severity,
    case
        when raised.is_last then raised.evidence
        else json_object(
            'standing', raised.evidence ->> 'standing',
            'status', raised.evidence ->> 'status',
            'last_true_on', raised.look_on
        )
    end as evidence,
    raised.suggestion,
    raised.is_first_change
    or (
        not raised.is_barred
        and not raised.is_waived
        and (raised.adds_to is null or closed.client_id is null)
        and (raised.code <> 'volume' or raised.place_in_code = 1)
    ) as is_noticed,
    raised.is_first_change,
    raised.is_waived,
from raised
left join closed on raised.client_id = closed.client_id
-- that nothing can be shown is said where there is nothing else to say
where raised.code <> 'unclear' or raised.is_first_change
