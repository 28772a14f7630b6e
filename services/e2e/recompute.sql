-- A season's money once more, from what the API exports and the published rules, by another language on another engine. It
-- shares no code with the suite. Money is whole cents, weights are whole tenths of a pound.
--
-- payable = net × (100 − M) ÷ (100 − base) above the base, the grain water-shrink factor (Virginia Tech, Constant Moisture
-- Grain Marketing, 2001), rounded half up to the tenth. A price times a weight rounds once, half up, to the cent. What is
-- shared among owners is floored, and the cents left over go to the largest remainders, ties by member number. A pool's base
-- is (proceeds − expenses + what came off for water − Σ weight × differential) ÷ Σ weight, rounded down to five digits.
WITH barrel AS (
    SELECT t.member, t.ticket, l.barrel, l.variety, (l.net * 10)::bigint AS net, c.moisture, c.color, c.grade, c.sample,
        CASE WHEN c.moisture > r.base THEN div(20 * l.net * (100 - c.moisture) + (100 - r.base), 2 * (100 - r.base)) ELSE l.net * 10 END AS payable,
        ceil(greatest(c.moisture - r.base, 0) * 10) AS tenths, r.step
    FROM line l JOIN ticket t USING (ticket) JOIN certificate c USING (sample) CROSS JOIN rule r
    WHERE t.state = 'TICKET_STATE_CLOSED' AND c.superseded_by = '' AND l.barrel NOT IN (SELECT barrel FROM unpriced)
), priced AS (
    SELECT b.*, coalesce(own.amount, other.amount) AS price, coalesce(mine.amount, theirs.amount) AS differential,
        round(b.step * b.tenths * b.payable / 10, 2) * 100 AS water
    FROM barrel b
    LEFT JOIN price own ON (own.variety, own.color, own.grade) = (b.variety, b.color, b.grade)
    LEFT JOIN price other ON (other.variety, other.color, other.grade) = ('', b.color, b.grade)
    LEFT JOIN class mine ON (mine.variety, mine.color, mine.grade) = (b.variety, b.color, b.grade)
    LEFT JOIN class theirs ON (theirs.variety, theirs.color, theirs.grade) = ('', b.color, b.grade)
), pool AS (
    SELECT (SELECT sum(amount) FROM entry) AS dollars, sum(payable) / 10 AS pounds, sum(water) / 100 AS kept, sum(payable * differential) / 10 AS adjusted FROM priced
), bases AS (
    SELECT floor((dollars + kept - adjusted) / pounds * 100000) / 100000 - n * 0.00001 AS base, dollars FROM pool, generate_series(0, 9) n
), base AS ( -- the highest at which the pool does not promise more than it has
    SELECT max(base) AS base FROM bases WHERE (SELECT sum(round((base + differential) * payable / 10, 2) - water / 100) FROM priced) <= dollars
), amounts AS ( -- each is shared for itself
    SELECT ticket, barrel, 'advance' AS what, round(price * payable / 10, 2) * 100 - water AS cents FROM priced
    UNION ALL SELECT ticket, barrel, 'value', round((base + differential) * payable / 10, 2) * 100 - water FROM priced, base
    UNION ALL SELECT ticket, barrel, 'less ' || code, -100 * CASE basis
            WHEN 'DEDUCTION_BASIS_NET_WEIGHT' THEN round(rate * net / 10, 2)
            WHEN 'DEDUCTION_BASIS_PAYABLE_WEIGHT' THEN round(rate * payable / 10, 2)
            ELSE amount END
        FROM priced, deduction
), floored AS (
    SELECT a.*, o.member, sign(cents) AS sign, div(abs(cents) * share, 100) AS part, mod(abs(cents) * share, 100) AS remainder
    FROM amounts a JOIN owner o USING (ticket)
), parts AS (
    SELECT member, what, sign * (part + CASE WHEN row_number() OVER w <= abs(cents) - sum(part) OVER (PARTITION BY barrel, what) THEN 1 ELSE 0 END) AS cents
    FROM floored WINDOW w AS (PARTITION BY barrel, what ORDER BY remainder DESC, member)
), totals AS (
    SELECT member,
        sum(cents) FILTER (WHERE what = 'value') AS gross, -- the final is the value less the advance
        coalesce(sum(cents) FILTER (WHERE what LIKE 'less %'), 0) AS deductions
    FROM parts GROUP BY member
)
SELECT member, (gross / 100)::numeric(20, 2)::text, (deductions / 100)::numeric(20, 2)::text, ((gross + deductions) / 100)::numeric(20, 2)::text,
    (SELECT count(*) FROM priced WHERE payable < net), (SELECT count(*) FROM owner WHERE share < 100), (SELECT count(*) FROM certificate WHERE superseded_by <> '')
FROM totals ORDER BY member
