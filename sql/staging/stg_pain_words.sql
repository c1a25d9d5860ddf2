-- One row per kind of word in notes: all languages together, as one pattern of whole words.
-- grain: kind
-- kind: pain (what speaks of pain, injury or dizziness), everyday (what only sounds so), or what says
-- that there is none: absent_before and absent_after a word of pain
-- pattern: the words as alternatives of a regular expression; * stands for more letters
with words as (
    select
        kind,
        unnest(string_split(words, '|')) as word,
    from seed_pain_words
)

select
    kind,
    string_agg(replace(word, '*', '[a-z]*'), '|' order by length(word) desc, word) as pattern,
from words
group by all
