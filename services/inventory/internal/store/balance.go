package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// What a run took and gave; jars that came back were packed before. Of a closed one the jars take the place of what is in it, and what they do not weigh is open.
const runBalances = `
SELECT r.number, 'packLots/' || r.pack_lot, r.code, 0::bigint, i.drawn, o.passed, coalesce(e.jars * e.mean_net, 0)::bigint, 0::bigint,
       coalesce((SELECT sum(mass) FROM customer_return b WHERE b.place = 'packLots/' || r.pack_lot), 0)::bigint,
       CASE WHEN e.pack_lot IS NULL THEN i.drawn - o.passed - o.lost ELSE 0 END,
       CASE WHEN e.pack_lot IS NULL THEN 0 ELSE i.drawn - o.passed - o.lost - e.jars * e.mean_net END,
       coalesce((SELECT sum(w.mass) FROM waiting_write_off w WHERE w.place = 'packLots/' || r.pack_lot AND w.jars = 0), 0)::bigint, o.codes, o.masses
FROM (SELECT * FROM pack_lot WHERE number < $1 ORDER BY number DESC LIMIT $2) r
LEFT JOIN pack_close e USING (pack_lot)
CROSS JOIN LATERAL (SELECT coalesce(sum(mass), 0)::bigint AS drawn FROM transfer
                    WHERE to_place = 'packLots/' || r.pack_lot AND from_place NOT LIKE 'returns/%') i
CROSS JOIN LATERAL (` + outflow + `'packLots/' || r.pack_lot` + outflowEnd + `) o
ORDER BY r.number DESC`

// What a charge took and gave; what it took from the one before it in the tank is its heel. What is left of one whose tank was filled
// anew is open.
const tankBalances = `
SELECT c.number, 'charges/' || c.charge, c.code, i.heel, i.came, o.passed, 0::bigint, o.shipped, 0::bigint,
       CASE WHEN s.charge = c.charge THEN v.content ELSE 0 END, CASE WHEN s.charge = c.charge THEN 0 ELSE v.content END,
       coalesce((SELECT sum(w.mass) FROM waiting_write_off w WHERE w.place = v.place), 0)::bigint, o.codes, o.masses
FROM (SELECT * FROM charge WHERE number < $1 ORDER BY number DESC LIMIT $2) c
JOIN vessel v ON v.place = 'charges/' || c.charge JOIN tank_state s USING (tank)
CROSS JOIN LATERAL (
    SELECT coalesce(sum(mass) FILTER (WHERE from_place = 'charges/' || c.previous), 0)::bigint AS heel,
           coalesce(sum(mass) FILTER (WHERE from_place IS DISTINCT FROM 'charges/' || c.previous), 0)::bigint AS came
    FROM transfer WHERE to_place = 'charges/' || c.charge) i
CROSS JOIN LATERAL (` + outflow + `'charges/' || c.charge` + outflowEnd + `) o
ORDER BY c.number DESC`

const (
	outflow = `
    SELECT coalesce(sum(mass) FILTER (WHERE to_place NOT LIKE 'losses/%' AND to_place NOT LIKE 'shipments/%'), 0)::bigint AS passed,
           coalesce(sum(mass) FILTER (WHERE to_place LIKE 'shipments/%'), 0)::bigint AS shipped,
           coalesce(sum(mass) FILTER (WHERE to_place LIKE 'losses/%'), 0)::bigint AS lost,
           array_agg(substr(to_place, length('losses/') + 1)) FILTER (WHERE to_place LIKE 'losses/%') AS codes,
           array_agg(mass::bigint) FILTER (WHERE to_place LIKE 'losses/%') AS masses
    FROM (SELECT to_place, sum(mass) AS mass FROM transfer WHERE from_place = `
	// Jars that were lost after their lot was closed were packed, and are of the house and its months.
	outflowEnd = ` AND NOT EXISTS (SELECT FROM jar_loss j WHERE j.transfer = transfer.transfer) GROUP BY to_place) t`
)

// Balances lists balances of runs, charges or months.
func (s Store) Balances(ctx context.Context, q pg.Querier, by string, zone *time.Location, before int64, limit int) ([]lots.Balance, error) {
	sql, most := runBalances, lots.LotLimit
	switch by {
	case "TANK":
		sql = tankBalances
	case "MONTH":
		return s.months(ctx, q, zone, before, limit)
	}
	rows, err := q.Query(ctx, sql, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list balances: %w", err)
	}
	balances, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (lots.Balance, error) {
		b := lots.Balance{Losses: map[string]quantity.Mass{}, Limit: most}
		var codes []string
		var masses []int64
		err := row.Scan(&b.Number, &b.Name, &b.Title, &b.Opening, &b.Received, &b.PassedOn, &b.Packed, &b.Shipped, &b.SentBack, &b.Closing, &b.Open, &b.Asked, &codes, &masses)
		for i, code := range codes {
			b.Losses[code] = quantity.Mass(masses[i])
		}
		return b, err
	})
	return balances, wrap("list balances", err)
}

// Everything that came into the house or left it, or is asked to be written off, by month of the cooperative's zone.
const monthly = `
SELECT extract(year FROM m)::bigint * 12 + extract(month FROM m)::bigint - 1, kind, code, sum(mass)::bigint FROM (
    SELECT date_trunc('month', b.receive_date::timestamp) AS m, 'received' AS kind, '' AS code,
           CASE WHEN b.withdrawn THEN coalesce(p.taken, 0) ELSE b.net END AS mass
    FROM barrel b LEFT JOIN standing p USING (barrel)
    UNION ALL
    SELECT date_trunc('month', transfer_time AT TIME ZONE $1),
           CASE WHEN to_place LIKE 'losses/%' THEN 'lost' WHEN to_place LIKE 'shipments/%' THEN 'shipped' ELSE 'returned' END,
           CASE WHEN to_place LIKE 'losses/%' THEN substr(to_place, length('losses/') + 1) ELSE '' END, mass
    FROM transfer WHERE to_place LIKE 'losses/%' OR to_place LIKE 'shipments/%' OR from_place LIKE 'shipments/%'
    UNION ALL
    SELECT date_trunc('month', n.open_time AT TIME ZONE $1), 'open', '', v.content
    FROM charge n JOIN vessel v ON v.place = 'charges/' || n.previous WHERE v.content <> 0
    UNION ALL
    SELECT date_trunc('month', ask_time AT TIME ZONE $1), 'asked', '', mass FROM waiting_write_off
) e GROUP BY 1, 2, 3 ORDER BY 1`

func (Store) months(ctx context.Context, q pg.Querier, zone *time.Location, before int64, limit int) ([]lots.Balance, error) {
	rows, err := q.Query(ctx, monthly, zone.String())
	if err != nil {
		return nil, fmt.Errorf("list months: %w", err)
	}
	var months []lots.Balance
	var number int64
	var kind, code string
	var mass quantity.Mass
	_, err = pgx.ForEachRow(rows, []any{&number, &kind, &code, &mass}, func() error {
		if len(months) == 0 {
			months = append(months, month(number))
		}
		for last := months[len(months)-1]; last.Number < number; last = months[len(months)-1] {
			months = append(months, month(last.Number+1))
		}
		months[len(months)-1].Count(kind, code, mass)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("list months: %w", err)
	}
	for i := range months {
		if i > 0 {
			months[i].Opening = months[i-1].Closing
		}
		months[i].Close()
	}
	slices.Reverse(months)
	months = slices.DeleteFunc(months, func(b lots.Balance) bool { return b.Number >= before })
	return months[:min(limit, len(months))], nil
}

func month(number int64) lots.Balance {
	name := fmt.Sprintf("%04d-%02d", number/12, number%12+1)
	return lots.Balance{Number: number, Name: name, Title: name, Losses: map[string]quantity.Mass{}, Limit: lots.MonthLimit}
}
