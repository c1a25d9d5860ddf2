-- One row per mail begun or sent, as in .setledger/mails.jsonl.
-- grain: message_id, at_moment, state
-- client_id: the client; null for the coach's copy
-- period: month of the report, YYYY-MM
-- message_id: Message-ID of the mail, the same for one client and period
-- recipient: address
-- state: sending (begun), sent (the server said yes), refused (it said no for good) or deferred (it
-- said no for now, or the line was cut before the end of the data); assumed: after a salvage, every
-- mail up to that month counts as sent
-- at_moment: when (UTC)
-- detail: the server's words, where it refused
-- code: finding that the mail names as the first change; empty: nothing to change; null: not known
-- subject: what that is about; empty: the client as a whole
create table if not exists ledger.mails (
    client_id varchar,
    period varchar not null,
    message_id varchar not null,
    recipient varchar not null,
    state varchar not null,
    at_moment timestamp not null,
    detail varchar,
    code varchar,
    subject varchar,
);
